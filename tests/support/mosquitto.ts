import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer, connect as tcpConnect } from 'node:net';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { findProgram, skipWithout } from './outside-programs.ts';

export interface MosquittoUser {
  readonly name: string;
  readonly password: string;
}

export interface Mosquitto {
  readonly port: number;
  /** `mqtt://127.0.0.1:port`, or `mqtts://localhost:port` with a certificate. */
  readonly url: string;
  stop(): Promise<void>;
  /** Ends it as a power cut would (kill -9), and waits until it is gone. */
  kill(): Promise<void>;
}

export interface MosquittoOptions {
  /** Without users anybody may connect. */
  readonly users?: readonly MosquittoUser[];
  readonly tls?: { readonly certFile: string; readonly keyFile: string };
  /** A port to listen on again after a restart; else a free one. */
  readonly port?: number;
  /** Further lines of its configuration. */
  readonly lines?: readonly string[];
}

const IMAGE = 'eclipse-mosquitto:2';

/** Prints one line and returns true where neither the program nor a container engine is here. */
export function skipWithoutMosquitto(): boolean {
  if (findProgram('mosquitto') || dockerAnswers()) return false;
  return skipWithout('mosquitto');
}

/** Starts a real mosquitto with its own configuration, in a folder of its own, on a free port; ready when it answers. */
export async function startMosquitto(options: MosquittoOptions = {}): Promise<Mosquitto> {
  const program = findProgram('mosquitto');
  return program ? startProgram(program, options) : startContainer(options);
}

async function startProgram(program: string, options: MosquittoOptions): Promise<Mosquitto> {
  const folder = mkdtempSync(join(tmpdir(), 'mosquitto-'));
  const port = options.port ?? (await freePort());
  const lines = [`listener ${port} 127.0.0.1`, ...configuration(options)];
  if (options.users) {
    const passwords = join(folder, 'passwords');
    writeFileSync(passwords, '', { mode: 0o600 });
    const tool = join(dirname(dirname(program)), 'bin', 'mosquitto_passwd');
    for (const { name, password } of options.users)
      execFileSync(tool, ['-b', passwords, name, password], { stdio: 'ignore' });
    lines.push(`password_file ${passwords}`);
  }
  if (options.tls) lines.push(`certfile ${options.tls.certFile}`, `keyfile ${options.tls.keyFile}`);
  // As root it would change to a user who may not read the folder.
  if (process.getuid?.() === 0) lines.push('user root');
  writeFileSync(join(folder, 'mosquitto.conf'), `${lines.join('\n')}\n`);
  const child = spawn(program, ['-c', join(folder, 'mosquitto.conf')], { stdio: ['ignore', 'ignore', 'pipe'] });
  let said = '';
  child.stderr?.on('data', (chunk: Buffer) => {
    said = (said + chunk.toString()).slice(-2000);
  });
  try {
    await untilAnswering(port, child, () => said);
  } catch (error) {
    child.kill('SIGKILL');
    throw error;
  }
  return {
    port,
    url: options.tls ? `mqtts://localhost:${port}` : `mqtt://127.0.0.1:${port}`,
    async stop() {
      await ended(child, 'SIGTERM');
      rmSync(folder, { recursive: true, force: true });
    },
    async kill() {
      await ended(child, 'SIGKILL');
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function startContainer(options: MosquittoOptions): Promise<Mosquitto> {
  const { GenericContainer, Wait } = await import('testcontainers');
  const content = (text: string, target: string) => ({ content: text, target, mode: 0o644 });
  const lines = ['listener 1883', ...configuration(options)];
  const files: { source: string; target: string; mode: number }[] = [];
  if (options.users) lines.push('password_file /tmp/passwords');
  if (options.tls) {
    lines.push('certfile /tmp/cert.pem', 'keyfile /tmp/key.pem');
    files.push({ source: options.tls.certFile, target: '/tmp/cert.pem', mode: 0o644 });
    files.push({ source: options.tls.keyFile, target: '/tmp/key.pem', mode: 0o644 });
  }
  const passwords = (options.users ?? []).map(
    ({ name, password }) => `mosquitto_passwd -b /tmp/passwords '${name}' '${password}'`,
  );
  const start = ['touch /tmp/passwords', ...passwords, 'chmod 0600 /tmp/passwords', 'exec mosquitto -c /tmp/m.conf'];
  let container = new GenericContainer(IMAGE)
    .withCopyContentToContainer([content(`user root\n${lines.join('\n')}\n`, '/tmp/m.conf')])
    .withCopyFilesToContainer(files)
    .withEntrypoint(['sh', '-c'])
    .withCommand([start.join(' && ')])
    .withWaitStrategy(Wait.forListeningPorts());
  container =
    options.port === undefined
      ? container.withExposedPorts(1883)
      : container.withExposedPorts({ container: 1883, host: options.port });
  const started = await container.start();
  const port = started.getMappedPort(1883);
  const host = started.getHost();
  return {
    port,
    url: `${options.tls ? 'mqtts' : 'mqtt'}://${host}:${port}`,
    async stop() {
      await started.stop();
    },
    async kill() {
      await started.stop({ timeout: 0 });
    },
  };
}

function configuration(options: MosquittoOptions): string[] {
  return [
    `allow_anonymous ${options.users ? 'false' : 'true'}`,
    'persistence false',
    'max_queued_messages 0',
    'log_dest stderr',
    'log_type error',
    ...(options.lines ?? []),
  ];
}

function dockerAnswers(): boolean {
  return spawnSync('docker', ['info'], { stdio: 'ignore', timeout: 10_000 }).status === 0;
}

function freePort(): Promise<number> {
  return new Promise((resolve) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as AddressInfo;
      server.close(() => resolve(port));
    });
  });
}

async function untilAnswering(port: number, child: ChildProcess, said: () => string): Promise<void> {
  const end = performance.now() + 20_000;
  while (!(await answers(port))) {
    if (child.exitCode !== null || performance.now() > end) throw new Error(`mosquitto did not start: ${said()}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

function answers(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = tcpConnect(port, '127.0.0.1', () => {
      socket.destroy();
      resolve(true);
    });
    socket.on('error', () => resolve(false));
  });
}

async function ended(child: ChildProcess, signal: 'SIGTERM' | 'SIGKILL'): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  await new Promise((resolve) => {
    child.once('exit', resolve);
    child.kill(signal);
  });
}

import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The compiled program, from the tests' sources as from their compiled form. */
const fromHere = import.meta.url.endsWith('.ts')
  ? '../../dist/api/command-line/main.js'
  : '../../api/command-line/main.js';
export const PROGRAM = fileURLToPath(new URL(fromHere, import.meta.url));

/** The compiled program as its user starts it, on free ports and a data folder of its own. */
export interface RunningProgram {
  readonly base: string;
  readonly httpPort: number;
  readonly mqttPort: number;
  readonly folder: string;
  readonly process: ChildProcess;
  /** What it printed so far, both streams. */
  output(): string;
  /** Ends it as a power cut would, and waits until it is gone. */
  kill(): Promise<void>;
  /** Ends it politely and returns its exit code. */
  stop(): Promise<number | null>;
}

const START_LIMIT_MS = 150_000;

/** Starts `mainsdiary serve` and waits until health is well. Ports and folder may be given to start the same one again. */
export async function startProgram(
  options: {
    folder?: string;
    httpPort?: number;
    mqttPort?: number;
    flags?: readonly string[];
    environment?: Record<string, string>;
    until?: 'healthy' | 'listening';
  } = {},
): Promise<RunningProgram> {
  if (!existsSync(PROGRAM)) throw new Error('the program is not built: run npm run build');
  const folder = options.folder ?? temporaryFolder();
  const httpPort = options.httpPort ?? (await freePort());
  const mqttPort = options.mqttPort ?? (await freePort());
  const child = spawn(
    process.execPath,
    [
      PROGRAM,
      'serve',
      '--data',
      folder,
      '--http-port',
      String(httpPort),
      '--mqtt-port',
      String(mqttPort),
      '--log-level',
      'warn',
      ...(options.flags ?? []),
    ],
    { stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...options.environment } },
  );
  let printed = '';
  for (const stream of [child.stdout, child.stderr])
    stream?.on('data', (chunk: Buffer) => {
      printed = (printed + chunk.toString()).slice(-100_000);
    });
  const gone = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)));
  const base = `http://127.0.0.1:${httpPort}`;
  const wanted = options.until ?? 'healthy';
  const deadline = Date.now() + START_LIMIT_MS;
  for (;;) {
    if (child.exitCode !== null || child.signalCode !== null)
      throw new Error(`the program ended at its start:\n${printed}`);
    const status = await healthStatus(base);
    if (status === 200 || (wanted === 'listening' && status !== undefined)) break;
    if (Date.now() > deadline) {
      child.kill('SIGKILL');
      throw new Error(`the program was not ready in time:\n${printed}`);
    }
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  return {
    base,
    httpPort,
    mqttPort,
    folder,
    process: child,
    output: () => printed,
    async kill() {
      child.kill('SIGKILL');
      await gone;
    },
    async stop() {
      child.kill('SIGTERM');
      return gone;
    },
  };
}

export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-test-'));
  if (temporary.length === 0) process.once('exit', removeTemporary);
  temporary.push(folder);
  return folder;
}

const temporary: string[] = [];
function removeTemporary(): void {
  for (const folder of temporary) rmSync(folder, { recursive: true, force: true });
}

export function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const server = createServer();
    server.once('error', reject);
    server.listen(0, '127.0.0.1', () => {
      const address = server.address();
      server.close(() =>
        typeof address === 'object' && address ? resolve(address.port) : reject(new Error('no port')),
      );
    });
  });
}

async function healthStatus(base: string): Promise<number | undefined> {
  try {
    return (await fetch(`${base}/api/health`, { signal: AbortSignal.timeout(2000) })).status;
  } catch {
    return undefined;
  }
}

/** Runs a command of the program to its end. */
export function runCommand(
  args: readonly string[],
  options: { input?: string; environment?: Record<string, string>; limitMs?: number } = {},
): Promise<{ code: number | null; stdout: string; stderr: string }> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [PROGRAM, ...args], {
      stdio: 'pipe',
      env: { ...process.env, ...options.environment },
    });
    const out: Buffer[] = [];
    const err: Buffer[] = [];
    child.stdout.on('data', (chunk: Buffer) => out.push(chunk));
    child.stderr.on('data', (chunk: Buffer) => err.push(chunk));
    const limit = setTimeout(() => child.kill('SIGKILL'), options.limitMs ?? 120_000);
    child.once('error', reject);
    child.once('close', (code) => {
      clearTimeout(limit);
      resolve({ code, stdout: Buffer.concat(out).toString(), stderr: Buffer.concat(err).toString() });
    });
    child.stdin.end(options.input ?? '');
  });
}

/** Asks again until the answer is as wanted; fails with the last answer. A condition is awaited, never a time. */
export async function eventually<Answer>(
  ask: () => Promise<Answer>,
  wanted: (answer: Answer) => boolean,
  limitMs = 60_000,
): Promise<Answer> {
  const deadline = Date.now() + limitMs;
  for (;;) {
    const answer = await ask();
    if (wanted(answer)) return answer;
    if (Date.now() > deadline) throw new Error(`still not as wanted: ${JSON.stringify(answer)?.slice(0, 2000)}`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

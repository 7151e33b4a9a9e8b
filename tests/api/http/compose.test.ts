import { writeFileSync } from 'node:fs';
import { request as requestHttps } from 'node:https';
import { type AddressInfo, connect, createServer, type Server } from 'node:net';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterEach, describe, expect, it } from 'vitest';
import { compose } from '../../../api/compose.ts';
import { systemClock } from '../../../api/system-clock.ts';
import { selfSigned } from '../../collector/ingest/intake-under-test.ts';
import { ask, askRoute } from './asking.ts';
import { type RunningServer, settingsFor, startServer, temporaryFolder } from './running-server.ts';

const SILENT = { info() {}, warn() {}, error() {} };
const ports = { clock: systemClock, log: SILENT, version: '0.0.0-test' };
const running: { stop(): Promise<void> }[] = [];
const started = async (...args: Parameters<typeof startServer>): Promise<RunningServer> => {
  const server = await startServer(...args);
  running.push(server);
  return server;
};
afterEach(async () => {
  for (const server of running.splice(0)) await server.stop();
});

async function occupied(): Promise<{ port: number; server: Server }> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return { port: (server.address() as AddressInfo).port, server };
}

describe('starting and ending', () => {
  it('keeps what was set and stored from one start to the next', async () => {
    const first = await startServer();
    const { id } = (await askRoute(first.url, 'createSite', { body: { name: '12 Sample Row', timeZone: 'UTC' } })).json;
    await askRoute(first.url, 'createLogger', { body: { id: 'front-hall', site: id } });
    await first.stop();
    const second = await started({ dataFolder: first.folder });
    expect((await askRoute(second.url, 'getLogger', { params: { id: 'front-hall' } })).json.site).toBe(id);
  });
  it('frees both ports when it ends, and ending twice is ending once', async () => {
    const server = await startServer();
    await Promise.all([server.stop(), server.stop()]);
    await server.stop();
    await started({ httpPort: server.httpPort, mqttPort: server.mqttPort!, dataFolder: temporaryFolder() });
  });
  it('names the port that is taken, and has then let go of everything', async () => {
    const { port, server } = await occupied();
    const folder = temporaryFolder();
    const mqttPort = (await occupied()).port;
    await expect(startServer({ httpPort: port, dataFolder: folder })).rejects.toMatchObject({ code: 'port_taken' });
    await expect(startServer({ mqttPort, dataFolder: folder })).rejects.toMatchObject({ code: 'port_taken' });
    server.close();
    const free = await started({ httpPort: port, dataFolder: folder });
    expect(free.httpPort).toBe(port);
  });
  it('takes the next free port where it may, and says so', async () => {
    const [http, mqtt] = [await occupied(), await occupied()];
    const server = await started({ httpPort: http.port, mqttPort: mqtt.port, takeNextFreePort: true });
    expect(server.httpPort).toBeGreaterThan(http.port);
    expect(server.mqttPort).toBeGreaterThan(mqtt.port);
    expect(server.notes).toHaveLength(2);
    expect(server.notes[1]).toBe(`Port ${http.port} is taken, so ${server.httpPort} is used.`);
    expect((await askRoute(server.url, 'health')).status).toBe(200);
    for (const { server: holder } of [http, mqtt]) holder.close();
  });
  it('ends although somebody holds a connection open and asks nothing', async () => {
    const server = await startServer();
    const held = connect(server.httpPort, '127.0.0.1');
    await new Promise((resolve) => held.once('connect', resolve));
    held.write('GET /api/health HTTP/1.1\r\n');
    await server.stop();
    held.destroy();
  });
  it('ends what it had begun when it is stopped while it starts', async () => {
    const folder = temporaryFolder();
    const program = compose(settingsFor(folder), ports);
    const starting = program.start();
    await program.stop();
    await starting.catch((error: unknown) => expect(error).toMatchObject({ code: 'interrupted' }));
    await program.stop();
    await started({ dataFolder: folder });
  });
});

describe('with a certificate', () => {
  it('serves https, marks the cookie Secure, and takes loggers over TLS', async () => {
    const certificate = selfSigned();
    try {
      const { setOwnerPassword } = await import('../../../api/access/access-file.ts');
      const folder = temporaryFolder();
      await setOwnerPassword(folder, 'bucket lantern oxbow');
      const server = await started({
        tlsCertFile: certificate.certFile,
        tlsKeyFile: certificate.keyFile,
        mqttTlsPort: 0,
        httpHost: '0.0.0.0',
        dataFolder: folder,
      });
      expect(server.url).toBe(`https://0.0.0.0:${server.httpPort}`);
      const sent = JSON.stringify({ password: 'bucket lantern oxbow' });
      const cookie = await new Promise<string>((resolve, reject) => {
        const origin = `https://127.0.0.1:${server.httpPort}`;
        const asked = requestHttps(
          `${origin}/api/session`,
          { method: 'POST', ca: certificate.cert, headers: { 'content-type': 'application/json', origin } },
          (response) => resolve(String(response.headers['set-cookie'])),
        );
        asked.on('error', reject);
        asked.end(sent);
      });
      expect(cookie).toMatch(/^__Host-mainsdiary_session=.*; Secure$/);
      // Refused by the key, not by TLS: the broker is reached.
      await expect(
        connectAsync(`mqtts://127.0.0.1:${server.mqttTlsPort}`, {
          ca: certificate.cert,
          username: 'a',
          password: 'b',
          reconnectPeriod: 0,
        }),
      ).rejects.toThrow(/not authorized|bad user ?name/i);
    } finally {
      certificate.remove();
    }
  });
  it('is told when certificate and key do not fit', async () => {
    const folder = temporaryFolder();
    const file = join(folder, 'no.pem');
    writeFileSync(file, 'nothing');
    await expect(startServer({ tlsCertFile: file, tlsKeyFile: file, dataFolder: folder })).rejects.toMatchObject({
      code: 'certificate_unfit',
    });
  });
});

describe('with an outside broker', () => {
  it('starts although the broker is away, and says so in health', async () => {
    const { port, server: holder } = await occupied();
    await new Promise((resolve) => holder.close(resolve));
    const server = await started({ broker: `mqtt://127.0.0.1:${port}` });
    const health = await ask(server.url, 'GET', '/api/health');
    expect(health.status).toBe(503);
    expect(health.json.status).toMatch(/mqtt/);
    expect((await askRoute(server.url, 'about')).json.broker).toMatchObject({
      kind: 'outside',
      host: '127.0.0.1',
      port,
    });
  });
});

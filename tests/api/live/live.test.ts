import { connect as connectTcp } from 'node:net';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { setOwnerPassword } from '../../../api/access/access-file.ts';
import { LIVE_VERSION, type LiveFrame, readLiveFrame } from '../../../api/contract/live-frames.ts';
import { askRoute } from '../http/asking.ts';
import { type RunningServer, startServer, temporaryFolder } from '../http/running-server.ts';

/** A page's side of the socket: frames as they come, each awaited by what it must be. */
async function openSocket(server: RunningServer, headers: Record<string, string> = {}) {
  const socket = new WebSocket(`ws://127.0.0.1:${server.httpPort}/api/live`, { headers });
  const frames: LiveFrame[] = [];
  const waiting = new Set<() => void>();
  socket.on('message', (data) => {
    const frame = readLiveFrame(data.toString());
    if (frame) frames.push(frame);
    for (const look of waiting) look();
  });
  await new Promise((resolve, reject) => {
    socket.once('open', resolve);
    socket.once('error', reject);
  });
  return {
    socket,
    frames,
    until<Type extends LiveFrame['type']>(
      type: Type,
      fits: (frame: Extract<LiveFrame, { type: Type }>) => boolean = () => true,
    ): Promise<Extract<LiveFrame, { type: Type }>> {
      return new Promise((resolve) => {
        const look = () => {
          const found = frames.find(
            (frame) => frame.type === type && fits(frame as Extract<LiveFrame, { type: Type }>),
          );
          if (!found) return;
          waiting.delete(look);
          resolve(found as Extract<LiveFrame, { type: Type }>);
        };
        waiting.add(look);
        look();
      });
    },
  };
}

/** Status of the answer to an upgrade that is refused. */
function refusedUpgrade(port: number, headers: Record<string, string>, path = '/api/live'): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connectTcp(port, '127.0.0.1', () => {
      const all = {
        Host: `127.0.0.1:${port}`,
        Connection: 'Upgrade',
        Upgrade: 'websocket',
        'Sec-WebSocket-Version': '13',
        'Sec-WebSocket-Key': 'dGhlIHNhbXBsZSBub25jZQ==',
        ...headers,
      };
      socket.write(
        `GET ${path} HTTP/1.1\r\n${Object.entries(all)
          .map(([name, value]) => `${name}: ${value}\r\n`)
          .join('')}\r\n`,
      );
    });
    let text = '';
    socket.on('data', (data) => {
      text += data.toString();
      if (text.startsWith('HTTP/1.1 101')) socket.destroy();
    });
    socket.on('close', () => resolve(text));
    socket.on('error', reject);
  });
}

describe('the live socket', () => {
  let server: RunningServer;
  let site: string;
  beforeAll(async () => {
    server = await startServer();
    site = (await askRoute(server.url, 'createSite', { body: { name: '12 Sample Row', timeZone: 'UTC' } })).json.id;
  });
  afterAll(() => server.stop());
  const addLogger = async (id: string, channels: unknown[]) =>
    (await askRoute(server.url, 'createLogger', { body: { id, site, channels } })).json.key as string;
  const publisher = (id: string, key: string) =>
    connectAsync(`mqtt://127.0.0.1:${server.mqttPort}`, { username: id, password: key, clientId: id });

  it('greets, then brings new samples in canonical units', async () => {
    const key = await addLogger('volts', [
      {
        channel: 'pressure',
        unit: 'V',
        endPoints: [
          { raw: 0.5, bar: 0 },
          { raw: 4.5, bar: 10 },
        ],
      },
    ]);
    const page = await openSocket(server, { origin: server.url });
    expect(await page.until('hello')).toMatchObject({ version: LIVE_VERSION, product: '0.0.0-test' });
    const logger = await publisher('volts', key);
    const time = Math.floor(Date.now() / 1000) * 1000;
    await logger.publishAsync('mainsdiary/volts/pressure', JSON.stringify({ time, value: 2.5 }), { qos: 1 });
    const { series } = await page.until('samples');
    expect(series).toEqual([{ logger: 'volts', channel: 'pressure', unit: 'bar', timeMs: [time], value: [5] }]);
    await logger.endAsync();
    page.socket.terminate();
  });
  it('tells a change of a site, of a logger, and an import with its progress', async () => {
    await addLogger('told', [{ channel: 'pressure', unit: 'bar' }]);
    const page = await openSocket(server);
    await askRoute(server.url, 'updateSite', { params: { id: site }, body: { name: '13 Sample Row' } });
    await page.until('changed', (frame) => frame.what === 'site' && frame.id === site);
    await askRoute(server.url, 'updateLogger', { params: { id: 'told' }, body: { heightAboveSupplyPointM: 1 } });
    await page.until('changed', (frame) => frame.what === 'logger' && frame.id === 'told');
    await askRoute(server.url, 'importSamples', {
      params: { id: 'told' },
      headers: { 'content-type': 'text/csv' },
      body: 'time,value\n2026-05-04T06:00:00Z,2\n',
    });
    await page.until('progress', (frame) => frame.task === 'import' && frame.subject === 'told' && frame.finished);
    await page.until('changed', (frame) => frame.what === 'samples' && frame.id === 'told');
    page.socket.terminate();
  });
  it('ends a reader that sends more than nothing much', async () => {
    const page = await openSocket(server);
    const closed = new Promise((resolve) => page.socket.once('close', resolve));
    page.socket.send('x'.repeat(5000));
    // 1009: message too big (RFC 6455, 7.4.1).
    expect(await closed).toBe(1009);
  });
  it('is refused to another page, under another name, at another address', async () => {
    const { httpPort } = server;
    const answered = (text: string) => [text.slice(9, 12), /"code":"(\w+)"/.exec(text)?.[1]];
    expect(answered(await refusedUpgrade(httpPort, { Origin: 'http://evil.example' }))).toEqual([
      '403',
      'foreign_origin',
    ]);
    expect(answered(await refusedUpgrade(httpPort, { Origin: 'null' }))).toEqual(['403', 'foreign_origin']);
    expect(answered(await refusedUpgrade(httpPort, { Host: `diary.example:${httpPort}` }))).toEqual([
      '421',
      'misdirected_request',
    ]);
    expect(answered(await refusedUpgrade(httpPort, {}, '/api/elsewhere'))).toEqual(['404', 'unknown_route']);
    expect((await refusedUpgrade(httpPort, {})).slice(9, 12)).toBe('101');
  });
});

it('the live socket asks for a session where the page does', async () => {
  const folder = temporaryFolder();
  await setOwnerPassword(folder, 'bucket lantern oxbow');
  const server = await startServer({ httpHost: '0.0.0.0', dataFolder: folder });
  const base = `http://127.0.0.1:${server.httpPort}`;
  try {
    expect((await refusedUpgrade(server.httpPort, {})).slice(9, 12)).toBe('401');
    const signedIn = await askRoute(base, 'signIn', { body: { password: 'bucket lantern oxbow' } });
    const cookie = signedIn.headers['set-cookie']![0]!.split(';')[0]!;
    const page = await openSocket(server, { cookie });
    await page.until('hello');
    page.socket.terminate();
  } finally {
    await server.stop();
  }
});

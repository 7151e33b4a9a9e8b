import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { findingCounts } from '../../../api/contract/finding-counts.ts';
import { type FindingsFrame, readFollowMessage, readLiveFrame } from '../../../api/contract/live-frames.ts';
import { runRig } from '../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../labelled/pump/rig-random.ts';
import { batches, streetDays } from '../../support/street-days.ts';
import { askRoute } from '../http/asking.ts';
import { type RunningServer, startServer } from '../http/running-server.ts';

describe('what a page asks to follow', () => {
  it.each([
    ['{"type":"follow","site":"a"}', { site: 'a' }],
    ['{"type":"follow","logger":"b"}', { logger: 'b' }],
    ['{"type":"follow"}', null],
    ['{"type":"follow","site":7}', undefined],
    [`{"type":"follow","site":"${'x'.repeat(65)}"}`, undefined],
    ['{"type":"samples"}', undefined],
    ['[]', undefined],
    ['null', undefined],
    ['{', undefined],
  ])('%s', (text, subject) => {
    expect(readFollowMessage(text)).toEqual(subject);
  });
});

describe('findings as samples come in', { timeout: 120_000 }, () => {
  let server: RunningServer;
  let site: string;
  let publish: (payload: string) => Promise<unknown>;
  const frames: FindingsFrame[] = [];
  const unfollowing: FindingsFrame[] = [];
  const sockets: WebSocket[] = [];

  async function reader(message: string, into: FindingsFrame[]): Promise<void> {
    const socket = new WebSocket(`ws://127.0.0.1:${server.httpPort}/api/live`, { headers: { origin: server.url } });
    sockets.push(socket);
    socket.on('message', (data) => {
      const frame = readLiveFrame(data.toString());
      if (frame?.type === 'findings') into.push(frame);
    });
    await new Promise((resolve) => socket.once('open', resolve));
    socket.send(message);
  }

  beforeAll(async () => {
    server = await startServer();
    site = (await askRoute(server.url, 'createSite', { body: { name: '12 Sample Row', timeZone: 'UTC' } })).json.id;
    const created = await askRoute(server.url, 'createLogger', {
      body: { id: 'front-hall', site, channels: [{ channel: 'pressure', unit: 'bar' }] },
    });
    const device = await connectAsync(`mqtt://127.0.0.1:${server.mqttPort}`, {
      username: 'front-hall',
      password: created.json.key,
      clientId: 'front-hall',
    });
    publish = (payload) => device.publishAsync('mainsdiary/front-hall/pressure', payload, { qos: 1 });
    await reader(JSON.stringify({ type: 'follow', site }), frames);
    await reader('{"type":"nothing"}', unfollowing);
  });
  afterAll(async () => {
    for (const socket of sockets) socket.terminate();
    await server.stop();
  });

  const newest = () => frames.at(-1);
  const sagsTold = () => expect.poll(() => newest()?.counts.sags, { timeout: 60_000, interval: 100 });

  it('are told to those who follow, and are those that HTTP answers, to the word', async () => {
    for (const payload of batches(streetDays(0, 2))) await publish(payload);
    await sagsTold().toBe(2);
    for (const payload of batches(streetDays(2, 3))) await publish(payload);
    await sagsTold().toBe(3);
    const frame = newest()!;
    expect(frame).toMatchObject({ of: { site }, logger: 'front-hall' });
    const { json } = await askRoute(server.url, 'siteFindings', { params: { id: site } });
    expect(Date.parse(json.until)).toBe(frame.until);
    expect(json.evidence).toEqual(frame.evidence);
    expect(findingCounts(json)).toEqual(frame.counts);
    expect(frame.evidence.moreDays).toBe(2);
  });

  it('are the same as those of the log read at once', async () => {
    const { until } = newest()!;
    const to = new Date(until).toISOString();
    const { json } = await askRoute(server.url, 'siteFindings', { params: { id: site }, query: { to } });
    expect(json.evidence).toEqual(newest()!.evidence);
  });

  it('follow a change of settings', async () => {
    await askRoute(server.url, 'updateSite', {
      params: { id: site },
      body: { thresholds: { lowSupplyBar: 2.5 } },
    });
    await expect.poll(() => newest()?.counts.lowSupply, { timeout: 60_000, interval: 100 }).toBe(3);
  });

  it('are nobody else’s', () => {
    expect(unfollowing).toEqual([]);
  });
});

describe('a pump’s findings as samples come in', { timeout: 120_000 }, () => {
  const frames: FindingsFrame[] = [];
  let server: RunningServer;
  let socket: WebSocket;
  let publish: (payload: string) => Promise<unknown>;

  beforeAll(async () => {
    server = await startServer();
    const { id } = (await askRoute(server.url, 'createSite', { body: { name: '14 Sample Row', timeZone: 'UTC' } }))
      .json;
    const created = await askRoute(server.url, 'createLogger', {
      body: { id: 'cellar', site: id, position: 'pump_outlet', channels: [{ channel: 'pressure', unit: 'bar' }] },
    });
    const device = await connectAsync(`mqtt://127.0.0.1:${server.mqttPort}`, {
      username: 'cellar',
      password: created.json.key,
      clientId: 'cellar',
    });
    publish = (payload) => device.publishAsync('mainsdiary/cellar/pressure', payload, { qos: 1 });
    socket = new WebSocket(`ws://127.0.0.1:${server.httpPort}/api/live`, { headers: { origin: server.url } });
    socket.on('message', (data) => {
      const frame = readLiveFrame(data.toString());
      if (frame?.type === 'findings') frames.push(frame);
    });
    await new Promise((resolve) => socket.once('open', resolve));
    socket.send(JSON.stringify({ type: 'follow', logger: 'cellar' }));
  });
  afterAll(async () => {
    socket.terminate();
    await server.stop();
  });

  it('tell of starts, their marks and cycling before the log’s end, and go on with it', async () => {
    const scenario = rigScenario({ ...RIG_FAMILIES.find(({ name }) => name === 'leak, 10 s')!, days: 2 }, 3);
    const { timeMs, pressureBar, starts } = runRig(scenario.house, new RigRandom(3));
    const rows = Array.from(timeMs, (atMs, row) => [atMs, pressureBar[row]!] as const);
    const upTo = Math.floor(0.8 * rows.length);
    const found = (until: number) => starts.filter(({ startMs }) => startMs < until).length;
    for (const payload of batches(rows.slice(0, upTo))) await publish(payload);
    const told = () => frames.at(-1);
    await expect
      .poll(() => told()?.counts.pumpStarts, { timeout: 60_000, interval: 100 })
      .toBeGreaterThan(0.95 * found(rows[upTo - 1]![0]));
    const before = told()!;
    expect(before.until).toBeLessThan(rows[upTo]![0]);
    // Episodes without demand rest on marks: unmarked starts make none.
    expect(before.counts.cycling).toBeGreaterThan(0);
    expect(before.evidence.statements.map(({ text }) => text).join(' ')).toMatch(/with nobody drawing|without demand/i);
    for (const payload of batches(rows.slice(upTo))) await publish(payload);
    await expect
      .poll(() => told()?.counts.pumpStarts, { timeout: 60_000, interval: 100 })
      .toBeGreaterThan(0.95 * found(Number.POSITIVE_INFINITY));
    expect(told()!.until).toBeGreaterThan(before.until);
  });
});

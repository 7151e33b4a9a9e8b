import mqtt, { type MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { until } from '../../collector/ingest/collector-under-test.ts';
import { type Mosquitto, skipWithoutMosquitto, startMosquitto } from '../../support/mosquitto.ts';
import { askRoute } from './asking.ts';
import { type RunningServer, startServer } from './running-server.ts';

const MAPPING = {
  filter: 'plant/7/+',
  channels: [
    { channel: 'pressure', value: '/readings/p/value', time: { pointer: '/ts', form: 'unix_ms' } },
    { channel: 'flow', value: '/readings/q' },
  ],
};
const payload = (atMs: number, mbar: number) => JSON.stringify({ ts: atMs, readings: { p: { value: mbar }, q: 4 } });
const CHANNELS = [
  { channel: 'pressure', unit: 'mbar' },
  { channel: 'flow', unit: 'l/min' },
];

const without = skipWithoutMosquitto();
const clients: MqttClient[] = [];
afterEach(async () => {
  await Promise.all(clients.splice(0).map((client) => client.endAsync(true)));
});
async function client(port: number, user?: string, password?: string): Promise<MqttClient> {
  const login = user === undefined || password === undefined ? {} : { username: user, password };
  const made = mqtt.connect({ host: '127.0.0.1', port, reconnectPeriod: 0, ...login });
  made.on('error', () => undefined);
  clients.push(made);
  await until(() => made.connected, 'the device is connected');
  return made;
}
/** By MQTT 3.1.1 a publish that is not allowed ends the connection. */
async function turnedAway(device: MqttClient, topic: string): Promise<void> {
  device.publish(topic, payload(Date.now(), 1), { qos: 1 });
  await until(() => !device.connected, `the end of the connection that published to ${topic}`);
}
async function addLogger(base: string, id: string, mapping?: unknown): Promise<string> {
  const answer = await askRoute(base, 'createLogger', { body: { id, channels: CHANNELS, mapping } });
  expect(answer.status, answer.text).toBe(201);
  return answer.json.key;
}
const logger = async (base: string, id: string) => (await askRoute(base, 'getLogger', { params: { id } })).json;
const patch = (base: string, id: string, body: unknown) => askRoute(base, 'updateLogger', { params: { id }, body });
const refusals = async (base: string, id: string): Promise<{ topic: string; reason: string }[]> =>
  (await askRoute(base, 'loggerRefusals', { params: { id } })).json;

describe("a device's own topics, with the embedded broker", () => {
  let server: RunningServer;
  beforeAll(async () => {
    server = await startServer();
  });
  afterAll(() => server.stop());

  it('are stored before they are acknowledged, read by the pointers', async () => {
    const key = await addLogger(server.url, 'plant-seven', MAPPING);
    const device = await client(server.mqttPort!, 'plant-seven', key);
    const atMs = Date.now() - 5000;
    await device.publishAsync('plant/7/state', payload(atMs, 2413), { qos: 1 });
    const found = await logger(server.url, 'plant-seven');
    expect(found.mapping).toMatchObject(MAPPING);
    expect(found.latest).toHaveLength(2);
    expect(found.lastSample).toMatchObject({ value: expect.closeTo(2.413, 9), valueAsSent: 2413, unitAsSent: 'mbar' });
    expect(Date.parse(found.lastSample.time)).toBe(atMs);
    await device.publishAsync('mainsdiary/plant-seven/pressure', '2400', { qos: 1 });
    expect((await logger(server.url, 'plant-seven')).extents[0]).toMatchObject({ channel: 'pressure', count: 2 });
  });

  it('are refused with pointer and what was found, and the message acknowledged', async () => {
    const key = await addLogger(server.url, 'plant-eight', { ...MAPPING, filter: 'plant/8/state' });
    const device = await client(server.mqttPort!, 'plant-eight', key);
    await device.publishAsync('plant/8/state', '{"readings":{"p":{"v":1}},"<b>":1}', { qos: 1 });
    expect(await refusals(server.url, 'plant-eight')).toMatchObject([
      { topic: 'plant/8/state', reason: expect.stringContaining('/readings/q leads nowhere') },
      { topic: 'plant/8/state', reason: expect.stringContaining('an object with v and has no value') },
    ]);
    expect((await logger(server.url, 'plant-eight')).refused).toBe(2);
  });

  it("are closed to others, and another logger's are closed to the device", async () => {
    const key = await addLogger(server.url, 'plant-nine', { ...MAPPING, filter: 'plant/9/state' });
    for (const topic of ['plant/7/state', 'plant/9/other']) {
      const device = await client(server.mqttPort!, 'plant-nine', key);
      await turnedAway(device, topic);
    }
    const told = await refusals(server.url, 'plant-nine');
    expect(told.map(({ topic }) => topic)).toContain('plant/9/other');
    expect(told.at(-1)?.reason).toContain('plant/9/state');
  });

  it('follow a changed filter at once, and end with it', async () => {
    const key = await addLogger(server.url, 'plant-ten');
    expect((await patch(server.url, 'plant-ten', { mapping: { ...MAPPING, filter: 'plant/10/state' } })).status).toBe(
      200,
    );
    const device = await client(server.mqttPort!, 'plant-ten', key);
    await device.publishAsync('plant/10/state', payload(Date.now(), 1000), { qos: 1 });
    await patch(server.url, 'plant-ten', { mapping: { ...MAPPING, filter: 'plant/10/live' } });
    await device.publishAsync('plant/10/live', payload(Date.now() + 1, 1000), { qos: 1 });
    expect((await logger(server.url, 'plant-ten')).extents[0].count).toBe(2);
    expect((await patch(server.url, 'plant-ten', { mapping: null })).json.mapping).toBeNull();
    await turnedAway(device, 'plant/10/live');
  });

  it.each([
    ['plant/7/state', 409, /also under plant\/7\/\+, the filter of the logger plant-seven/],
    ['plant/#', 409, /filter of the logger/],
    ['#', 400, /also covers mainsdiary/],
    ['mainsdiary/+/pressure', 400, /also covers mainsdiary/],
    ['$SYS/#', 400, /belong to the broker/],
    ['plant/#/x', 400, /not the whole of its last level/],
  ])('are refused as %s', async (filter, status, sentence) => {
    await addLogger(server.url, `other-${filter.replace(/[^a-z0-9]/g, '-')}`.toLowerCase());
    const id = `other-${filter.replace(/[^a-z0-9]/g, '-')}`.toLowerCase();
    for (const answer of [
      await patch(server.url, id, { mapping: { ...MAPPING, filter } }),
      await askRoute(server.url, 'tryMapping', {
        params: { id },
        body: { mapping: { ...MAPPING, filter }, messages: [{ topic: 'x', payload: '1' }] },
      }),
    ]) {
      expect(answer.status).toBe(status);
      expect(answer.json.detail).toMatch(sentence);
    }
  });

  it('are tried on sample messages before anything is saved', async () => {
    await addLogger(server.url, 'plant-trial');
    const mapping = { ...MAPPING, filter: 'trial/+' };
    const answer = await askRoute(server.url, 'tryMapping', {
      params: { id: 'plant-trial' },
      body: {
        mapping,
        messages: [
          { topic: 'trial/a', payload: payload(Date.UTC(2026, 4, 4), 2413) },
          { topic: 'other/a', payload: '1' },
          { topic: 'trial/b', payload: '<script>alert(1)</script>\u0000' },
        ],
      },
    });
    expect(answer.status, answer.text).toBe(200);
    const [read, elsewhere, wrong] = answer.json.messages;
    expect(read.readings[0]).toMatchObject({
      channel: 'pressure',
      time: '2026-05-04T00:00:00Z',
      timeFrom: 'message',
      value: 2.413,
      unit: 'bar',
      valueAsSent: 2413,
      unitAsSent: 'mbar',
    });
    expect(read.readings[1]).toMatchObject({ channel: 'flow', timeFrom: 'arrival', value: 4 });
    expect(elsewhere).toMatchObject({ matches: false, readings: [], refused: [] });
    expect(wrong.refused).toEqual([{ index: null, reason: expect.stringMatching(/isn't JSON/) }]);
    const after = await logger(server.url, 'plant-trial');
    expect(after.mapping).toBeNull();
    expect(after.extents).toEqual([]);
    expect(after.refused).toBe(0);
  });

  it('a trial is bounded', async () => {
    const asked = (messages: unknown) =>
      askRoute(server.url, 'tryMapping', { params: { id: 'plant-trial' }, body: { mapping: MAPPING, messages } });
    const message = { topic: 'x', payload: '1' };
    expect((await asked(Array.from({ length: 21 }, () => message))).status).toBe(400);
    expect((await asked([{ topic: 'x', payload: 'x'.repeat(32 * 1024 + 1) }])).status).toBe(400);
    expect((await asked([{ topic: 'x', payload: 'x'.repeat(70 * 1024) }])).status).toBe(413);
  });
});

describe.skipIf(without)("a device's own topics, with an outside broker", () => {
  let broker: Mosquitto;
  let server: RunningServer;
  beforeAll(async () => {
    broker = await startMosquitto();
    server = await startServer({ broker: broker.url });
    await addLogger(server.url, 'plant-seven', MAPPING);
  });
  afterAll(async () => {
    await server.stop();
    await broker.stop();
  });
  const counted = async (id: string) =>
    (await logger(server.url, id)).extents.find(({ channel }: { channel: string }) => channel === 'pressure')?.count ??
    0;
  /** Subscribing takes a round trip: publishes anew until one arrives. */
  async function arrives(device: MqttClient, topic: string, id: string): Promise<void> {
    const before = await counted(id);
    await until(async () => {
      await device.publishAsync(topic, payload(Date.now(), 1234), { qos: 1 });
      return (await counted(id)) > before;
    }, `a sample of ${topic}`);
  }

  it('are subscribed to, added and given up while it runs', async () => {
    const device = await client(broker.port);
    await arrives(device, 'plant/7/state', 'plant-seven');
    await patch(server.url, 'plant-seven', { mapping: { ...MAPPING, filter: 'hall/7' } });
    await arrives(device, 'hall/7', 'plant-seven');
    const before = await counted('plant-seven');
    await device.publishAsync('plant/7/state', payload(Date.now(), 1), { qos: 1 });
    await arrives(device, 'hall/7', 'plant-seven');
    expect(await counted('plant-seven')).toBeGreaterThan(before);
    const strangers = (await askRoute(server.url, 'unknownRefusals')).json;
    expect(strangers.filter(({ topic }: { topic: string }) => topic === 'plant/7/state').length).toBeLessThanOrEqual(1);
  });

  it('what was published while it was away waits at the broker; what the broker kept (RETAIN) is no sample', async () => {
    await patch(server.url, 'plant-seven', { mapping: { ...MAPPING, filter: 'hall/7' } });
    const device = await client(broker.port);
    await arrives(device, 'hall/7', 'plant-seven');
    const { folder } = server;
    await server.stop();
    const atMs = Date.now();
    for (let i = 0; i < 20; i++) await device.publishAsync('hall/7', payload(atMs + i, 2000 + i), { qos: 1 });
    await device.publishAsync('hall/9', payload(atMs, 1), { qos: 1, retain: true });
    server = await startServer({ broker: broker.url, dataFolder: folder });
    await until(async () => (await counted('plant-seven')) >= 21, 'what waited is stored');
    await addLogger(server.url, 'plant-nine', { ...MAPPING, filter: 'hall/9' });
    await arrives(device, 'hall/9', 'plant-nine');
    const series = await askRoute(server.url, 'series', {
      params: { id: 'plant-nine' },
      headers: { accept: 'text/csv' },
    });
    expect(series.text).not.toContain(new Date(atMs).toISOString());
  });
});

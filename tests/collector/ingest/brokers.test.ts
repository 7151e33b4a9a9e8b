import fc from 'fast-check';
import type { MqttClient } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { MAX_PAYLOAD_BYTES } from '../../../collector/ingest/intake-limits.ts';
import { skipWithoutMosquitto } from '../../support/mosquitto.ts';
import { until } from './collector-under-test.ts';
import { type Intake, keyOf, startIntake } from './intake-under-test.ts';

const TOPIC = 'mainsdiary/front-hall/pressure';
/** Whole seconds a day ago, so that every time is plausible whenever the test runs. */
const YESTERDAY_S = Math.floor(Date.now() / 1000) - 86_400;
const timed = (i: number, value: number = i) => JSON.stringify({ time: YESTERDAY_S + i, value });

describe.each(['embedded', 'mosquitto'] as const)('with the broker %s', (kind) => {
  const without = kind === 'mosquitto' && skipWithoutMosquitto();
  let intake: Intake;
  const total = () => intake.collector.counters().total;

  beforeEach(async () => {
    if (!without) intake = await startIntake(kind);
  });
  afterEach(async () => {
    if (!without) await intake.stop();
  });

  test.skipIf(without)('every message is stored, whatever its QoS', async () => {
    const client = await intake.publisher('front-hall');
    const publishing = Array.from({ length: 300 }, (_, i) => client.publishAsync(TOPIC, timed(i), { qos: 1 }));
    await Promise.all(publishing);
    for (let i = 300; i < 350; i++) client.publish(TOPIC, timed(i), { qos: 0 });
    client.publish(TOPIC, timed(350), { qos: 2 });
    await until(() => total().stored === 351, 'all stored');
    expect((await intake.held.samples()).map(({ value }) => value)).toEqual(Array.from({ length: 351 }, (_, i) => i));
    expect(total()).toMatchObject({ messages: 351, stored: 351, duplicate: 0, refused: 0 });
  });

  test.skipIf(without)('what was not committed when the collector died comes again and is stored', async () => {
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, timed(0), { qos: 1 });
    await until(async () => (await intake.held.count()) === 1, 'the first is stored');
    intake.held.hold();
    const publishing = Array.from({ length: 100 }, (_, i) => client.publishAsync(TOPIC, timed(i + 1), { qos: 1 }));
    await until(() => total().messages > 50, 'messages arrive');
    expect(await intake.held.count()).toBe(1);
    await intake.replaceCollector();
    await Promise.all(publishing);
    await until(async () => (await intake.held.count()) === 101, 'all stored');
  });

  test.skipIf(without)('after a failing store the flow resumes by itself and nothing is lost', async () => {
    const client = await intake.publisher('front-hall');
    intake.held.failWith(new Error('the disk is full'));
    const publishing = Array.from({ length: 20 }, (_, i) => client.publishAsync(TOPIC, timed(i), { qos: 1 }));
    await until(() => intake.collector.health().state === 'failing', 'health says so');
    intake.held.failWith(undefined);
    await Promise.all(publishing);
    await until(async () => (await intake.held.count()) === 20, 'all stored');
    expect(intake.collector.health().state).toBe('ok');
  });

  test.skipIf(without)('the same reading twice is one sample; with another value the first stays', async () => {
    const client = await intake.publisher('front-hall');
    for (const value of [1.5, 1.5, 1.7]) await client.publishAsync(TOPIC, timed(0, value), { qos: 1 });
    await until(() => total().messages === 3 && total().waiting === 0, 'all taken');
    await until(() => total().conflict === 1, 'the conflict is counted');
    expect(await intake.held.samples()).toMatchObject([{ value: 1.5 }]);
    expect(total()).toMatchObject({ stored: 1, duplicate: 1 });
  });

  test.skipIf(without)('every form of payload is stored as sent', async () => {
    const client = await intake.publisher('front-hall');
    const at = (seconds: number) => new Date((YESTERDAY_S + seconds) * 1000).toISOString();
    const payloads = [
      `{"time":"${at(0)}","value":1.0}`,
      `[{"time":${YESTERDAY_S + 1},"value":1.1},{"time":${(YESTERDAY_S + 2) * 1000},"value":1.2}]`,
      `[{"bn":"urn:dev:x:","bt":${YESTERDAY_S + 3},"bu":"Pa","n":"pressure","v":130000},{"n":"flow","u":"l/s","v":0.2}]`,
    ];
    for (const payload of payloads) await client.publishAsync(TOPIC, payload, { qos: 1 });
    await client.publishAsync('mainsdiary/front-hall/pump', 'on', { qos: 1 });
    await until(() => total().stored === 6, 'all stored');
    expect((await intake.held.samples()).map(({ value, unit }) => [value, unit])).toEqual([
      [1, 'bar'],
      [1.1, 'bar'],
      [1.2, 'bar'],
      [130_000, 'Pa'],
    ]);
    expect(await intake.held.samples('front-hall', 'flow')).toMatchObject([{ value: 0.2, unit: 'l/s' }]);
    expect(await intake.held.samples('front-hall', 'pump')).toMatchObject([{ value: 1, unit: 'on/off' }]);
  });

  test.skipIf(without)('a buffer of a day comes in batches of an hour, across hours and out of order', async () => {
    const client = await intake.publisher('front-hall');
    const batches = Array.from({ length: 24 }, (_, hour) =>
      Array.from({ length: 3600 }, (_, s) => ({ time: YESTERDAY_S - 86_400 + hour * 3600 + s, value: (s % 50) / 10 })),
    );
    await Promise.all(batches.reverse().map((batch) => client.publishAsync(TOPIC, JSON.stringify(batch), { qos: 1 })));
    await until(() => total().stored === 86_400, 'all stored');
    expect(await intake.held.count()).toBe(86_400);
    expect(total()).toMatchObject({ stored: 86_400, refused: 0 });
  });

  test.skipIf(without)('what cannot be read is acknowledged and kept to look at', async () => {
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, 'rubbish', { qos: 1 });
    await client.publishAsync('mainsdiary/front-hall/humidity', '50', { qos: 1 });
    await client.publishAsync(TOPIC, `[${timed(0)},{"value":"?"}]`, { qos: 1 });
    await until(async () => (await intake.held.all.refusalCount('front-hall')) === 3, 'all recorded');
    const refusals = await intake.held.all.refusals('front-hall');
    expect(refusals.map(({ excerpt }) => excerpt)).toEqual(expect.arrayContaining(['rubbish', '50']));
    expect(refusals.every(({ reason }) => reason.length > 10)).toBe(true);
    expect(await intake.held.count()).toBe(1);
  });

  test.skipIf(without)('a fresh publish with RETAIN is a sample; what is given out later is none', async () => {
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, '1.482', { qos: 1, retain: true });
    await until(async () => (await intake.held.count()) === 1, 'stored');
    await intake.replaceCollector();
    const again = await intake.publisher('front-hall');
    await again.publishAsync(TOPIC, timed(0), { qos: 1 });
    await until(async () => (await intake.held.count()) === 2, 'the next is stored');
    expect(await intake.held.all.refusalCount('front-hall')).toBe(0);
  });

  test.skipIf(without)('the status topic says who is there, and the will who is not', async () => {
    const will = {
      topic: 'mainsdiary/front-hall/status',
      payload: Buffer.from('offline'),
      qos: 1 as const,
      retain: true,
    };
    const client = await intake.publisher('front-hall', { will, reconnectPeriod: 0 });
    await client.publishAsync('mainsdiary/front-hall/status', 'online', { qos: 1, retain: true });
    await until(() => intake.collector.presence('front-hall').state === 'online', 'online');
    (client as unknown as { stream: { destroy(): void } }).stream.destroy();
    await until(() => intake.collector.presence('front-hall').state === 'offline', 'offline');
  });

  test.skipIf(without)('anonymous clients and wrong keys are turned away', async () => {
    for (const login of [
      {},
      { username: 'front-hall', password: 'wrong' },
      { username: 'cellar', password: keyOf('front-hall') },
    ]) {
      const options = { username: undefined, password: undefined, ...login, reconnectPeriod: 0 };
      await expect(connectOnce(intake, options as object)).rejects.toThrow(/refused|closed/i);
    }
    expect(total().messages).toBe(0);
  });

  test.skipIf(without)('some thousands of hostile messages through a socket leave it working', async () => {
    const client = await intake.publisher('front-hall');
    const hostile = fc.sample(
      fc.tuple(
        fc.constantFrom('pressure', 'flow', 'pump', 'status', 'humidity', 'a/b', '__proto__', '\u202e'),
        fc.oneof(
          fc.uint8Array({ maxLength: 80 }),
          fc.json().map((text) => Buffer.from(text)),
        ),
        fc.boolean(),
      ),
      { numRuns: 3000, seed: 3 },
    );
    // The subscription of the outside broker has three levels: what is deeper never reaches the collector.
    const seen = kind === 'embedded' ? hostile : hostile.filter(([last]) => last !== 'a/b');
    for (let from = 0; from < hostile.length; from += 500) {
      const part = hostile.slice(from, from + 500);
      await Promise.all(
        part.map(([last, payload, retain]) =>
          client.publishAsync(`mainsdiary/front-hall/${last}`, Buffer.from(payload), { qos: 1, retain }),
        ),
      );
    }
    await client.publishAsync(TOPIC, timed(0), { qos: 1 });
    await until(() => total().messages === seen.length + 1 && total().waiting === 0, 'all taken');
    await until(async () => (await intake.held.samples()).some(({ atMs }) => atMs === YESTERDAY_S * 1000), 'it works');
    expect(total().refused).toBe(await intake.held.all.refusalCount('front-hall'));
    expect((await intake.held.all.refusals('front-hall')).length).toBeLessThanOrEqual(100);
  });

  test.skipIf(without)('a message over 256 kB never becomes samples, and says why', async () => {
    const client = await intake.publisher('front-hall', { reconnectPeriod: 0 });
    const closed = new Promise<void>((resolve) => client.once('close', () => resolve()));
    const big = `1${' '.repeat(MAX_PAYLOAD_BYTES + 2000)}`;
    client.publish(TOPIC, big, { qos: 1 });
    if (kind === 'embedded') await closed;
    await until(async () => (await intake.held.all.refusalCount('front-hall')) === 1, 'recorded');
    expect((await intake.held.all.refusals('front-hall'))[0]!.reason).toContain('262144');
    expect(await intake.held.count()).toBe(0);
  });
});

async function connectOnce(intake: Intake, options: object): Promise<MqttClient> {
  const { default: mqtt } = await import('mqtt');
  return new Promise((resolve, reject) => {
    const client = mqtt.connect({ host: '127.0.0.1', port: intake.port, ...options });
    client.on('connect', () => resolve(client));
    client.on('error', (error) => {
      client.end(true);
      reject(error);
    });
    client.on('close', () => reject(new Error('closed')));
  });
}

import { createServer } from 'node:net';
import mqtt from 'mqtt';
import { afterEach, describe, expect, test } from 'vitest';
import { createCollector } from '../../../collector/collector.ts';
import {
  type BrokerSubscriber,
  startBrokerSubscriber,
  subscriberClientId,
} from '../../../collector/ingest/broker-subscriber.ts';
import { brokerFault } from '../../../collector/ingest/subscriber-faults.ts';
import {
  type Mosquitto,
  type MosquittoOptions,
  skipWithoutMosquitto,
  startMosquitto,
} from '../../support/mosquitto.ts';
import { testLog, until, wallClock } from './collector-under-test.ts';
import { heldStore, selfSigned } from './intake-under-test.ts';

const without = skipWithoutMosquitto();
const USER = { name: 'collector', password: 'the collector' };

describe('the subscriber', () => {
  const undo: (() => unknown)[] = [];
  afterEach(async () => {
    for (const step of undo.splice(0).reverse()) await step();
  });

  async function broker(options: MosquittoOptions = {}): Promise<Mosquitto> {
    const started = await startMosquitto(options);
    undo.push(() => started.stop());
    return started;
  }
  async function subscribe(url: string, more: { user?: string; password?: string; ca?: string } = {}) {
    const held = await heldStore();
    const collector = createCollector({ store: held.store, clock: wallClock, log: testLog() });
    const subscriber = startBrokerSubscriber({ url, installation: 'test', collector, log: testLog(), ...more });
    undo.push(
      () => held.close(),
      () => collector.stop(),
      () => subscriber.stop(),
    );
    return { held, collector, subscriber };
  }
  const reached = (subscriber: BrokerSubscriber, state: string) =>
    until(() => subscriber.health().state === state, `state ${state}, not ${JSON.stringify(subscriber.health())}`);

  test.skipIf(without)('says that the password is wrong, and goes on trying', async () => {
    const { url } = await broker({ users: [USER] });
    const { subscriber } = await subscribe(url, { user: 'collector', password: 'wrong' });
    await reached(subscriber, 'failing');
    expect(subscriber.health()).toMatchObject({ address: url, message: expect.stringContaining('password') });
  });

  test.skipIf(without)('waits for a broker that comes later, and finds it again after a restart', async () => {
    const first = await startMosquitto();
    const { port } = first;
    await first.stop();
    const { subscriber, collector, held } = await subscribe(`mqtt://127.0.0.1:${port}`);
    await reached(subscriber, 'failing');
    expect(subscriber.health().message).toContain('nothing listens');
    const second = await startMosquitto({ port });
    await reached(subscriber, 'connected');
    await second.stop();
    await until(() => subscriber.health().state !== 'connected', 'the loss is seen');
    await broker({ port });
    await reached(subscriber, 'connected');
    const client = mqtt.connect(`mqtt://127.0.0.1:${port}`);
    await client.publishAsync('mainsdiary/front-hall/pressure', '1.5', { qos: 1 });
    await until(() => collector.counters().total.stored === 1, 'it works again');
    expect(await held.count()).toBe(1);
    await client.endAsync();
  });

  test.skipIf(without)('refuses a certificate it cannot trust, and takes one it was given', async () => {
    const certificate = selfSigned();
    undo.push(() => certificate.remove());
    const { url } = await broker({ tls: certificate });
    const wary = await subscribe(url);
    await reached(wary.subscriber, 'failing');
    expect(wary.subscriber.health().message).toContain('certificate');
    const trusting = await subscribe(url, { ca: certificate.cert });
    await reached(trusting.subscriber, 'connected');
  });

  test.skipIf(without)('refuses the messages of loggers nobody added, and acknowledges them', async () => {
    const { url } = await broker();
    const { subscriber, collector, held } = await subscribe(url);
    await reached(subscriber, 'connected');
    const client = mqtt.connect(url);
    for (let i = 0; i < 150; i++) await client.publishAsync(`mainsdiary/stranger-${i}/pressure`, '1.5', { qos: 1 });
    await client.publishAsync('mainsdiary/front-hall/pressure', '1.5', { qos: 1 });
    await until(() => collector.counters().total.messages === 151, 'all taken');
    await until(() => collector.counters().total.stored === 1, 'the known one is stored');
    expect(await held.count()).toBe(1);
    expect(collector.counters().unknown).toMatchObject({ messages: 150, refused: 150 });
    expect((await held.all.refusals(undefined)).length).toBe(100);
    expect(collector.counters().loggers.size).toBe(1);
    await client.endAsync();
  });

  test.skipIf(without)('what came while it was away waits at the broker for it', async () => {
    const { url } = await broker();
    const away = await subscribe(url);
    await reached(away.subscriber, 'connected');
    await away.subscriber.stop();
    expect(away.subscriber.health().state).toBe('stopped');
    const client = mqtt.connect(url);
    const now = Math.floor(Date.now() / 1000);
    for (let i = 0; i < 50; i++) {
      await client.publishAsync('mainsdiary/front-hall/pressure', `{"time":${now - i},"value":1}`, { qos: 1 });
    }
    const back = await subscribe(url);
    await until(async () => (await back.held.count()) === 50, 'all came');
    await client.endAsync();
  });

  test('falls back to MQTT 3.1.1 where the broker hangs up on MQTT 5', async () => {
    const levels: number[] = [];
    const old = createServer((socket) => {
      socket.on('error', () => undefined);
      socket.on('data', (chunk) => {
        if (chunk[0] === 0x10) {
          // CONNECT: fixed header of two or three bytes, then the name's length and MQTT, then the level.
          const level = chunk[chunk.indexOf('MQTT') + 4]!;
          levels.push(level);
          // The answers of MQTT 3.1.1 table 3.1: 1 is an unacceptable version.
          socket.write(Buffer.from(level === 4 ? [0x20, 2, 0, 0] : [0x20, 2, 0, 1]));
          if (level !== 4) socket.end();
        } else if (chunk[0] === 0x82) socket.write(Buffer.from([0x90, 3, chunk[2]!, chunk[3]!, 1]));
      });
    });
    const port = await new Promise<number>((resolve) =>
      old.listen(0, '127.0.0.1', () => resolve((old.address() as { port: number }).port)),
    );
    undo.push(() => void old.close());
    const { subscriber } = await subscribe(`mqtt://127.0.0.1:${port}`);
    await reached(subscriber, 'connected');
    expect(levels.at(-1)).toBe(4);
  });
});

test('its client id is fixed for an installation and differs between two', () => {
  expect(subscriberClientId('a')).toBe(subscriberClientId('a'));
  expect(subscriberClientId('a')).not.toBe(subscriberClientId('b'));
  // 23 bytes are what MQTT 3.1.1 section 3.1.3.1 makes every broker accept.
  expect(subscriberClientId('a').length).toBeLessThanOrEqual(23);
});

test.each([
  [{ code: 5 }, 'password'],
  [{ code: 0x86 }, 'password'],
  [{ code: 3 }, 'busy'],
  [{ code: 0x8c }, 'refuses the connection'],
  [{ code: 'ECONNREFUSED' }, 'nothing listens at broker.example'],
  [{ code: 'ENOTFOUND' }, "isn't known"],
  [{ code: 'EHOSTUNREACH' }, "can't be reached"],
  [{ code: 'DEPTH_ZERO_SELF_SIGNED_CERT' }, 'certificate'],
  [{ code: 'CERT_HAS_EXPIRED' }, 'certificate'],
  [{ code: 'ERR_TLS_CERT_ALTNAME_INVALID' }, 'certificate'],
  [{ message: 'connack timeout' }, 'does not answer as an MQTT broker'],
])('the failure %j is told as: %s', (fault, said) => {
  expect(brokerFault(Object.assign(new Error('x'), fault), 'mqtts://broker.example:8883').message).toContain(said);
});

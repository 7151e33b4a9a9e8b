import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt from 'mqtt';
import { afterEach, describe, expect, test } from 'vitest';
import { type Collector, createCollector } from '../../../collector/collector.ts';
import { type BrokerSubscriber, startBrokerSubscriber } from '../../../collector/ingest/broker-subscriber.ts';
import { createShortLives } from '../../../collector/ingest/short-lives.ts';
import type { BrokerFault } from '../../../collector/ports.ts';
import { makeAuthority } from '../../support/certificates.ts';
import {
  type Mosquitto,
  type MosquittoOptions,
  skipWithoutMosquitto,
  startMosquitto,
} from '../../support/mosquitto.ts';
import { testLog, until, wallClock } from './collector-under-test.ts';
import { heldStore } from './intake-under-test.ts';

const without = skipWithoutMosquitto();

describe('what is wrong with an outside broker is told, and ends by itself', () => {
  const undo: (() => unknown)[] = [];
  let running: Mosquitto | undefined;
  afterEach(async () => {
    for (const step of undo.splice(0).reverse()) await step();
    await running?.stop();
    running = undefined;
  });

  /** The broker in its new form, on the port of the one before. */
  async function broker(options: MosquittoOptions = {}): Promise<Mosquitto> {
    const port = running?.port;
    await running?.stop();
    running = await startMosquitto(port === undefined ? options : { port, ...options });
    return running;
  }

  async function subscribe(url: string, more: { user?: string; password?: string; ca?: string; known?: boolean } = {}) {
    const held = await heldStore();
    const collector = createCollector({ store: held.store, clock: wallClock, log: testLog() });
    const { known = false, ...rest } = more;
    const remembered: boolean[] = [];
    const session = { known, remember: () => remembered.push(true) };
    const options = { url, installation: 'test', collector, session, log: testLog(), ...rest };
    const subscriber = startBrokerSubscriber(options);
    undo.push(
      () => held.close(),
      () => collector.stop(),
      () => subscriber.stop(),
    );
    return { subscriber, collector, remembered };
  }

  const failing = (subscriber: BrokerSubscriber, fault: BrokerFault) =>
    until(() => subscriber.health().fault === fault, `${fault}, not ${JSON.stringify(subscriber.health())}`);
  const connected = (subscriber: BrokerSubscriber) =>
    until(() => subscriber.health().state === 'connected', 'connected again', 30_000);

  async function takesSamples(collector: Collector, url: string, more: mqtt.IClientOptions = {}): Promise<void> {
    const { stored } = collector.counters().total;
    const client = await mqtt.connectAsync(url, more);
    await client.publishAsync('mainsdiary/front-hall/pressure', '{"time":1777897867,"value":1.5}', { qos: 1 });
    await until(() => collector.counters().total.stored > stored, 'the sample is stored');
    await client.endAsync();
  }

  test.skipIf(without)('away', async () => {
    const { url } = await broker();
    await running!.stop();
    const { subscriber, collector } = await subscribe(url);
    await failing(subscriber, 'away');
    expect(subscriber.health()).toMatchObject({
      state: 'failing',
      message: expect.stringContaining('nothing listens'),
    });
    await broker();
    await connected(subscriber);
    expect(subscriber.health()).toMatchObject({ fault: undefined, message: undefined, note: undefined });
    await takesSamples(collector, url);
  });

  test.skipIf(without)('a wrong password, until the broker takes it', async () => {
    const user = { name: 'collector', password: 'another' };
    const { url } = await broker({ users: [user] });
    const { subscriber } = await subscribe(url, { user: 'collector', password: 'this one' });
    await failing(subscriber, 'not_welcome');
    expect(subscriber.health().message).toContain('--broker-password-file');
    await broker({ users: [{ ...user, password: 'this one' }] });
    await connected(subscriber);
  });

  test.skipIf(without)(
    'a certificate that has expired, that is for another name, or of an unknown authority',
    async () => {
      const [known, stranger] = [makeAuthority(), makeAuthority()];
      undo.push(known.remove, stranger.remove);
      const { url } = await broker({ tls: known.issue({ days: -1 }) });
      const { subscriber, collector } = await subscribe(url, { ca: known.cert });
      await failing(subscriber, 'certificate');
      expect(subscriber.health().message).toContain('has expired');
      await broker({ tls: known.issue({ name: 'elsewhere.example' }) });
      await until(() => subscriber.health().message?.includes('another name') === true, 'the other name is told');
      await broker({ tls: stranger.issue() });
      await until(() => subscriber.health().message?.includes('--broker-ca') === true, 'the unknown authority is told');
      await broker({ tls: known.issue() });
      await connected(subscriber);
      await takesSamples(collector, url, { ca: known.cert });
    },
  );

  test.skipIf(without)('restarted: with what it keeps nothing is said, without it what may be lost is', async () => {
    const kept = mkdtempSync(join(tmpdir(), 'kept-by-broker-'));
    undo.push(() => rmSync(kept, { recursive: true, force: true }));
    const lines = ['persistence true', `persistence_location ${kept}/`];
    const { url } = await broker({ lines });
    const { subscriber, collector, remembered } = await subscribe(url);
    await connected(subscriber);
    expect(remembered).toEqual([true]);
    await broker({ lines });
    await until(() => subscriber.health().state !== 'connected', 'the loss of the connection is seen');
    await connected(subscriber);
    expect(subscriber.health()).toMatchObject({ sessionsLost: 0, note: undefined });
    await broker();
    await until(() => subscriber.health().sessionsLost === 1, 'the loss of the session is seen');
    await connected(subscriber);
    expect(subscriber.health().note).toContain('autosave_on_changes true');
    await takesSamples(collector, url);
  });

  test.skipIf(without)('a broker that forgot us while we were away', async () => {
    const { url } = await broker();
    const { subscriber } = await subscribe(url, { known: true });
    await connected(subscriber);
    expect(subscriber.health()).toMatchObject({ sessionsLost: 1, note: expect.stringContaining('may be lost') });
  });

  test.skipIf(without)(
    'pushed out by another under the same name, until that one goes',
    { timeout: 90_000 },
    async () => {
      const { url } = await broker();
      const { subscriber, collector } = await subscribe(url);
      await connected(subscriber);
      const other = await mqtt.connectAsync(url, { clientId: subscriber.clientId, reconnectPeriod: 500 });
      other.on('error', () => undefined);
      await failing(subscriber, 'pushed_out');
      expect(subscriber.health().message).toContain(subscriber.clientId);
      await other.endAsync(true);
      await connected(subscriber);
      await takesSamples(collector, url);
    },
  );
});

describe('connections that end as soon as they are made', () => {
  test('three in a row are told; a long one, or one we ended ourselves, starts anew', () => {
    let nowMs = 0;
    const lives = createShortLives(() => nowMs);
    const live = (ms: number, ours = false): boolean => {
      lives.opened();
      nowMs += ms;
      return lives.closed(ours);
    };
    expect([live(100), live(100), live(100), live(100)]).toEqual([false, false, true, true]);
    expect([live(60_000), live(100), live(100)]).toEqual([false, false, false]);
    expect(live(100, true)).toBe(false);
    expect(lives.closed(false), 'an attempt that never connected has no life').toBe(false);
    expect(live(100)).toBe(true);
  });
});

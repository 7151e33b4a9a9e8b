import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type IClientOptions, type MqttClient } from 'mqtt';
import { type Collector, type CollectorStore, createCollector } from '../../../collector/collector.ts';
import { type BrokerSubscriber, startBrokerSubscriber } from '../../../collector/ingest/broker-subscriber.ts';
import {
  type BrokerLimits,
  type EmbeddedBroker,
  startEmbeddedBroker,
} from '../../../collector/ingest/embedded-broker.ts';
import type { Channel } from '../../../collector/model/channel.ts';
import type { Store } from '../../../collector/store/port.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { type Mosquitto, type MosquittoOptions, startMosquitto } from '../../support/mosquitto.ts';
import { testLog, until, wallClock } from './collector-under-test.ts';

export const LOGGERS = ['front-hall', 'cellar'] as const;
export const keyOf = (loggerId: string): string => `key-of-${loggerId}`;
const COLLECTOR_USER = { name: 'collector', password: 'the collector' };

/** A real store in a folder of its own, whose commits a test can hold back or make fail. */
export interface HeldStore {
  readonly store: CollectorStore;
  readonly all: Store;
  hold(): void;
  release(): void;
  failWith(error: Error | undefined): void;
  /** Sample count of a channel; 0 where there is none. */
  count(loggerId?: string, channel?: Channel): Promise<number>;
  samples(loggerId?: string, channel?: Channel): Promise<{ atMs: number; value: number; unit: string }[]>;
  close(): Promise<void>;
}

export async function heldStore(): Promise<HeldStore> {
  const folder = mkdtempSync(join(tmpdir(), 'intake-'));
  const all = await openSqliteStore({ folder, clock: wallClock });
  for (const id of LOGGERS) {
    await all.putLogger({ id, createdMs: 0, keySha256: '' });
    await all.addChannelSetting({ loggerId: id, channel: 'pressure', fromMs: 0, unit: 'bar' });
  }
  let held: Promise<void> | undefined;
  let letGo = (): void => undefined;
  let problem: Error | undefined;
  const store: CollectorStore = {
    store: async (pieces) => {
      await held;
      if (problem) throw problem;
      return all.store(pieces);
    },
    addRefusals: (refusals) => all.addRefusals(refusals),
    logger: (id) => all.logger(id),
    channelSettings: (id) => all.channelSettings(id),
    latest: (ids) => all.latest(ids),
    state: (name) => all.state(name),
    putState: (name, value) => all.putState(name, value),
  };
  const samples: HeldStore['samples'] = async (loggerId = LOGGERS[0], channel = 'pressure') => {
    const found: { atMs: number; value: number; unit: string }[] = [];
    for await (const run of all.runs(loggerId, channel, 0, 8e15)) {
      for (const [i, atMs] of run.timeMs.entries()) found.push({ atMs, value: run.value[i]!, unit: run.unit });
    }
    return found;
  };
  return {
    store,
    all,
    hold() {
      held = new Promise((resolve) => {
        letGo = resolve;
      });
    },
    release() {
      held = undefined;
      letGo();
    },
    failWith(error) {
      problem = error;
    },
    samples,
    count: async (loggerId, channel) => (await samples(loggerId, channel)).length,
    async close() {
      letGo();
      await all.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** A way in with a broker: the embedded one, or a mosquitto that the collector subscribes to. */
export interface Intake {
  readonly kind: 'embedded' | 'mosquitto';
  readonly held: HeldStore;
  readonly collector: Collector;
  readonly log: ReturnType<typeof testLog>;
  readonly port: number;
  readonly embedded: EmbeddedBroker | undefined;
  readonly subscriber: BrokerSubscriber | undefined;
  /** A client with that logger's key, or with these options. */
  publisher(loggerId: string, options?: IClientOptions): Promise<MqttClient>;
  /** Stops the collector without letting anything held be committed, and starts another over the same store. */
  replaceCollector(): Promise<void>;
  stop(): Promise<void>;
}

export interface IntakeOptions {
  readonly limits?: Partial<BrokerLimits>;
  readonly tls?: { readonly port: number; readonly cert: string; readonly key: string };
  readonly mosquitto?: MosquittoOptions;
}

export async function startIntake(kind: Intake['kind'], options: IntakeOptions = {}): Promise<Intake> {
  const held = await heldStore();
  const log = testLog();
  const users = [...LOGGERS.map((id) => ({ name: id as string, password: keyOf(id) })), COLLECTOR_USER];
  const mosquitto: Mosquitto | undefined =
    kind === 'mosquitto' ? await startMosquitto({ users, ...options.mosquitto }) : undefined;
  const clients: MqttClient[] = [];
  let collector: Collector;
  let embedded: EmbeddedBroker | undefined;
  let subscriber: BrokerSubscriber | undefined;

  async function startCollector(port: number): Promise<void> {
    collector = createCollector({ store: held.store, clock: wallClock, log });
    if (mosquitto) {
      const { name: user, password } = COLLECTOR_USER;
      subscriber = startBrokerSubscriber({ url: mosquitto.url, user, password, installation: 'test', collector, log });
      await until(() => subscriber!.health().state === 'connected', 'the subscriber is connected');
    } else {
      const authenticate = async (loggerId: string, key: string): Promise<boolean> => key === keyOf(loggerId);
      const { limits, tls } = options;
      embedded = await startEmbeddedBroker({ host: '127.0.0.1', port, tls, collector, authenticate, log, limits });
    }
  }

  await startCollector(0);
  const port = mosquitto?.port ?? embedded!.port;
  return {
    kind,
    held,
    log,
    port,
    get collector() {
      return collector;
    },
    get embedded() {
      return embedded;
    },
    get subscriber() {
      return subscriber;
    },
    async publisher(loggerId, more = {}) {
      const client = mqtt.connect({
        host: '127.0.0.1',
        port,
        username: loggerId,
        password: keyOf(loggerId),
        reconnectPeriod: 50,
        ...more,
      });
      clients.push(client);
      client.on('error', () => undefined);
      await until(() => client.connected, 'the publisher is connected');
      return client;
    },
    async replaceCollector() {
      held.failWith(new Error('the collector is being killed'));
      held.release();
      if (subscriber) await subscriber.stop();
      await embedded?.stop();
      await collector.stop();
      held.failWith(undefined);
      await startCollector(port);
    },
    async stop() {
      held.failWith(undefined);
      held.release();
      await Promise.all(clients.map((client) => client.endAsync(true)));
      await subscriber?.stop();
      await embedded?.stop();
      await collector.stop();
      await mosquitto?.stop();
      await held.close();
    },
  };
}

/** A self-signed certificate for localhost, made by openssl. */
export function selfSigned(): { cert: string; key: string; certFile: string; keyFile: string; remove(): void } {
  const folder = mkdtempSync(join(tmpdir(), 'certificate-'));
  const [keyFile, certFile] = [join(folder, 'key.pem'), join(folder, 'cert.pem')];
  const subject = ['-subj', '/CN=localhost', '-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1'];
  const made = ['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2'];
  execFileSync('openssl', [...made, '-keyout', keyFile, '-out', certFile, ...subject], { stdio: 'ignore' });
  return {
    cert: readFileSync(certFile, 'utf8'),
    key: readFileSync(keyFile, 'utf8'),
    certFile,
    keyFile,
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

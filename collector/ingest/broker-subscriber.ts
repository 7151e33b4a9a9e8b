import { createHash } from 'node:crypto';
import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import type { Collector } from '../collector.ts';
import { formatRfc3339 } from '../model/instant.ts';
import type { BrokerHealth, Log } from '../ports.ts';
import { type AckingClient, deferAcks } from './deferred-acks.ts';
import type { FilterFollower } from './follow-filters.ts';
import { MAX_PAYLOAD_BYTES } from './intake-limits.ts';
import { createShortLives } from './short-lives.ts';
import {
  brokerFault,
  isVersionRefused,
  notAllowedWords,
  pushedOutWords,
  SESSION_TAKEN_OVER,
  sessionLostWords,
  type ToldFault,
} from './subscriber-faults.ts';
import { ALL_TOPICS } from './topic.ts';

/**
 * What may be unacknowledged at once, asked of a broker that speaks MQTT 5: while a batch of a thousand is on its way to
 * the disk the next ones are to be read.
 */
const RECEIVE_MAXIMUM = 4000;
/** Our own window, kept in any case; wider, because while it is full not even a ping's answer is read. */
const WINDOW_MESSAGES = 5000;
const WINDOW_BYTES = 32 * 1024 * 1024;
/** A larger packet is left out by the broker (MQTT 5); between our payload bound and this one it is refused by name. */
const MAX_PACKET_BYTES = 4 * MAX_PAYLOAD_BYTES;
/** How long the broker keeps what waits for us while we are away: a month. */
const SESSION_EXPIRY_S = 30 * 24 * 3600;
const RECONNECT_EVERY_MS = 1000;
/** Pushed out by another under our name, we come back more slowly, and call it well only once a connection has held. */
const PUSHED_OUT_WAIT_MS = 5000;
const HELD_AFTER_MS = 8000;
/** A session that the broker lost is told for a day. */
const NOTE_FOR_MS = 24 * 3_600_000;
const CONNECT_WITHIN_MS = 10_000;
/** After samples could not be stored, before the broker is asked to send them again. */
const FAILING_WAIT_MS = 1000;
/** A broker that knows no MQTT 5 may just hang up; after so many times the older version is tried. */
const SILENT_CLOSES_BEFORE_FALLBACK = 3;

export interface BrokerSubscriberOptions {
  /** `mqtt://host[:port]` or `mqtts://host[:port]`. */
  readonly url: string;
  readonly user?: string | undefined;
  readonly password?: string | undefined;
  /** Certificates to trust instead of the system's, as PEM. */
  readonly ca?: string | Buffer | undefined;
  /** Whether that broker has held a session of ours before; told once it does. Missing: nobody remembers. */
  readonly session?: { readonly known: boolean; remember(): void } | undefined;
  /** What is this installation's alone and stays (its id, its data folder's): the client id is derived from it. */
  readonly installation: string;
  readonly collector: Collector;
  /** Subscribes to the devices' own filters; missing: there are none. */
  readonly filters?: FilterFollower | undefined;
  readonly log: Log;
}

export interface BrokerSubscriber {
  readonly address: string;
  readonly clientId: string;
  health(): BrokerHealth;
  /** Told of each change of health. */
  onHealth(listener: (health: BrokerHealth) => void): () => void;
  stop(): Promise<void>;
}

/** The fixed client id of an installation: the same after every restart, so that the broker's session is found again. */
export function subscriberClientId(installation: string): string {
  return `mainsdiary-${createHash('sha256').update(installation).digest('hex').slice(0, 12)}`;
}

/**
 * Follows all loggers at a broker that stands elsewhere: a persistent session, every message acknowledged after its
 * commit. Returns at once; connects, and connects again, by itself, and says in `health` how it stands.
 */
export function startBrokerSubscriber(options: BrokerSubscriberOptions): BrokerSubscriber {
  const { collector, log } = options;
  const address = shownAddress(options.url);
  const clientId = subscriberClientId(options.installation);
  const listeners = new Set<(health: BrokerHealth) => void>();
  let health: BrokerHealth = { state: 'connecting', message: undefined, address };
  let client: MqttClient;
  let renewing: NodeJS.Timeout | undefined;
  let stopped = false;
  let sessionKnown = options.session?.known ?? false;
  let sessionsLost = 0;
  let sessionLostMs: number | undefined;
  let pushedOut = false;
  let holding: NodeJS.Timeout | undefined;
  let endedByUs = false;
  const shortLives = createShortLives(() => performance.now());

  function tell(state: BrokerHealth['state'], told?: Partial<ToldFault>): void {
    const message = told?.message;
    if (health.state === state && health.message === message) return;
    health = { state, message, address, fault: told?.fault };
    if (state === 'failing') log.warn({ address }, `the broker: ${message}`);
    else log.info({ address }, `the broker: ${state}`);
    for (const listener of listeners) listener(health);
  }

  function wellAgain(of: MqttClient): void {
    pushedOut = false;
    of.options.reconnectPeriod = RECONNECT_EVERY_MS;
    tell('connected');
  }

  function pushOut(of: MqttClient): void {
    pushedOut = true;
    of.options.reconnectPeriod = PUSHED_OUT_WAIT_MS;
    tell('failing', pushedOutWords(clientId));
  }

  function noteSession(present: boolean): void {
    if (!present && sessionKnown) {
      sessionsLost += 1;
      sessionLostMs = collector.nowMs();
      log.warn({ address }, `the broker: ${sessionLostWords(formatRfc3339(sessionLostMs))}`);
    }
    if (!sessionKnown) options.session?.remember();
    sessionKnown = true;
  }

  function fallBack(from: MqttClient): void {
    log.info({ address }, 'the broker does not speak MQTT 5; MQTT 3.1.1 is used');
    from.end(true);
    client = start(4);
  }

  function start(version: 4 | 5): MqttClient {
    let silentCloses = 0;
    const started = connect(options.url, connectOptions(options, clientId, version));
    deferAcks(started as AckingClient, {
      windowMessages: WINDOW_MESSAGES,
      windowBytes: WINDOW_BYTES,
      take(packet, taken) {
        const message = {
          topic: packet.topic,
          payload: typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload,
          qos: packet.qos === 0 ? (0 as const) : (1 as const),
          duplicate: packet.dup,
          retainedDelivery: packet.retain,
          arrivedMs: collector.nowMs(),
        };
        collector.take(message, taken);
      },
      onRefused: () => renewLater(started),
    });
    started.on('connect', ({ sessionPresent }) => {
      silentCloses = Number.NEGATIVE_INFINITY;
      shortLives.opened();
      noteSession(sessionPresent);
      collector.deliveryResumed();
      started.subscribe(ALL_TOPICS, { qos: 1 }, (error, granted) => {
        if (stopped || started !== client) return;
        const refused = error ?? (granted?.some(({ qos }) => qos >= 128) ? new Error('not allowed') : undefined);
        if (refused) tell('failing', notAllowedWords(ALL_TOPICS, refused.message));
        else if (pushedOut) holding = setTimeout(wellAgain, HELD_AFTER_MS, started);
        else tell('connected');
      });
      options.filters?.connected(started);
    });
    started.on('disconnect', ({ reasonCode }) => {
      if (!stopped && started === client && reasonCode === SESSION_TAKEN_OVER) pushOut(started);
    });
    started.on('close', () => {
      if (stopped || started !== client) return;
      clearTimeout(holding);
      if (health.state === 'connected') tell('connecting', { fault: 'lost', message: 'the connection was lost' });
      if (shortLives.closed(endedByUs)) pushOut(started);
      endedByUs = false;
      silentCloses += 1;
      if (version === 5 && silentCloses === SILENT_CLOSES_BEFORE_FALLBACK) fallBack(started);
    });
    started.on('error', (error) => {
      if (stopped || started !== client) return;
      silentCloses = -1;
      if (version === 5 && isVersionRefused(error)) fallBack(started);
      else tell('failing', brokerFault(error, options.url));
    });
    return started;
  }

  /** What could not be stored is unacknowledged: on a new connection the session delivers it again. */
  function renewLater(of: MqttClient): void {
    if (stopped || renewing !== undefined) return;
    renewing = setTimeout(() => {
      renewing = undefined;
      if (stopped || of !== client) return;
      endedByUs = true;
      of.stream.destroy();
    }, FAILING_WAIT_MS);
  }

  client = start(5);
  return {
    address,
    clientId,
    health: () => ({
      ...health,
      sessionsLost,
      note:
        sessionLostMs !== undefined && collector.nowMs() - sessionLostMs < NOTE_FOR_MS
          ? sessionLostWords(formatRfc3339(sessionLostMs))
          : undefined,
    }),
    onHealth(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    async stop() {
      if (stopped) return;
      stopped = true;
      clearTimeout(renewing);
      clearTimeout(holding);
      options.filters?.stop();
      await client.endAsync();
      tell('stopped');
    },
  };
}

function connectOptions(options: BrokerSubscriberOptions, clientId: string, version: 4 | 5): IClientOptions {
  return {
    clientId,
    clean: false,
    protocolVersion: version,
    ...(options.user === undefined ? {} : { username: options.user }),
    ...(options.password === undefined ? {} : { password: options.password }),
    ...(options.ca === undefined ? {} : { ca: options.ca }),
    rejectUnauthorized: true,
    reconnectPeriod: RECONNECT_EVERY_MS,
    connectTimeout: CONNECT_WITHIN_MS,
    reconnectOnConnackError: true,
    // We subscribe at each connect ourselves, to hear whether it was granted.
    resubscribe: false,
    ...(version === 5
      ? {
          properties: {
            sessionExpiryInterval: SESSION_EXPIRY_S,
            receiveMaximum: RECEIVE_MAXIMUM,
            maximumPacketSize: MAX_PACKET_BYTES,
          },
        }
      : {}),
  };
}

/** The URL without a user or a password that may stand in it. */
function shownAddress(url: string): string {
  const { protocol, host } = new URL(url);
  return `${protocol}//${host}`;
}

import { createServer, type Server, type Socket } from 'node:net';
import { createServer as createTlsServer } from 'node:tls';
import { Aedes, type AuthenticateError, type Client, type ConnectPacket, type PublishPacket } from 'aedes';
import type { Collector } from '../collector.ts';
import type { BrokerHealth, Log } from '../ports.ts';
import { createBrokerDoor, type DoorLimits } from './broker-door.ts';
import { shownTopic } from './excerpt.ts';
import { MAX_PAYLOAD_BYTES } from './intake-limits.ts';
import { closeServer, listen } from './listen.ts';
import { type GateFault, MAX_UNREAD_BYTES, PacketGate } from './packet-gate.ts';
import { allowedTopics, isUnder, TOPIC_ROOT } from './topic.ts';
import { createWaitingRoom, type WaitingGuest, type WaitingLimits } from './waiting-room.ts';

/*
 * The broker in our own process. A publish is authorised only once its samples are committed, so the PUBACK that
 * follows means stored. Nothing is kept here: no sessions, no retained messages, no queues. It speaks MQTT 3.1 and
 * 3.1.1; a client that asks for MQTT 5 is told so in that version's own words and may fall back.
 */

/** Payload, topic (at most 64 kB would be legal, ours are short) and packet identifier. */
const MAX_PACKET_BYTES = MAX_PAYLOAD_BYTES + 1024;
export type BrokerLimits = DoorLimits & WaitingLimits;
export const BROKER_LIMITS: BrokerLimits = {
  connections: 10_000,
  connectionsAnAddress: 2_000,
  waitingMessages: 500,
  waitingBytes: 1024 * 1024,
  waitingMessagesInAll: 50_000,
  waitingBytesInAll: 32 * 1024 * 1024,
};
/** A CONNECT that doesn't come, a TLS handshake that isn't finished: the connection is ended. */
const CONNECT_WITHIN_MS = 10_000;
/** What a client subscribed to and doesn't read for so long: a slow line has taken a few messages by then. */
const READ_WITHIN_MS = 30_000;
/** While samples can't be stored, a connection is ended this long after, so that loggers don't come back in a storm. */
const FAILING_WAIT_MS = 1000;
/** Subscriptions of one connection, and characters of one; a logger listens to its own channels and status. */
const MOST_FILTERS = 32;
const LONGEST_FILTER = 200;
const UNACCEPTABLE_VERSION_IN_MQTT5 = Buffer.from([0x20, 0x03, 0x00, 0x84, 0x00]);

export interface EmbeddedBroker {
  /** Where it listens; `tlsPort` undefined without TLS. */
  readonly port: number;
  readonly tlsPort: number | undefined;
  readonly address: string;
  health(): BrokerHealth;
  /** Ends the logger's connections: its key was renewed, or it was deleted. */
  disconnect(loggerId: string): void;
  stop(): Promise<void>;
}

export interface EmbeddedBrokerOptions {
  readonly host: string;
  /** 0 takes any free port. */
  readonly port: number;
  readonly tls?: { readonly port: number; readonly cert: string | Buffer; readonly key: string | Buffer } | undefined;
  readonly collector: Collector;
  /** Whether `key` is that logger's. A rejection is answered with "server unavailable". */
  authenticate(loggerId: string, key: string): Promise<boolean>;
  readonly log: Log;
  readonly limits?: Partial<BrokerLimits> | undefined;
}

/** One connection from its first byte on. */
interface Visit extends WaitingGuest {
  readonly address: string;
  readonly gate: PacketGate;
  loggerId: string | undefined;
  /** What the logger's topics begin with; of no meaning before it is known. */
  ownTopics: string;
  /** What it may listen to, as it asked for it. */
  readonly filters: Set<string>;
}

/** Starts listening. Rejects with `port_taken` or `cannot_listen`. */
export async function startEmbeddedBroker(options: EmbeddedBrokerOptions): Promise<EmbeddedBroker> {
  const { collector, log } = options;
  const limits = { ...BROKER_LIMITS, ...options.limits };
  const visits = new Map<unknown, Visit>();
  const room = createWaitingRoom<Visit>(limits);
  /** Connections that have subscribed to something. */
  const listening = new Set<Visit>();
  const door = createBrokerDoor({
    limits,
    authenticate: (loggerId, key) => options.authenticate(loggerId, key),
    nowMs: () => collector.nowMs(),
    log,
  });
  let stopped = false;

  const aedes = await Aedes.createBroker({
    connectTimeout: CONNECT_WITHIN_MS,
    maxClientsIdLength: 200,
    maxInflightInbound: 20,
    maxTopicLevels: 10,
    queueLimit: 1000,
    drainTimeout: READ_WITHIN_MS,
    preConnect(client, packet, done) {
      const visit = visits.get(client.conn);
      if (packet.protocolVersion === (5 as number)) {
        client.conn.write(UNACCEPTABLE_VERSION_IN_MQTT5);
        done(new Error('MQTT 5 was asked for; MQTT 3.1.1 is spoken here'), false);
        return;
      }
      if (visit === undefined) {
        done(new Error('the connection is closed'), false);
        return;
      }
      ownSession(packet);
      done(null, true);
    },
    authenticate(client, user, key, done) {
      const visit = visits.get(client.conn);
      if (visit === undefined) return done(null, false);
      door.login(visit.address, user, key).then(
        (loggerId) => {
          visit.loggerId = loggerId;
          visit.ownTopics = `${TOPIC_ROOT}/${loggerId}/`;
          if (loggerId === undefined) return done(refusal('wrong'), false);
          loggerOf.set(visit.gate, loggerId);
          done(null, true);
        },
        (error: unknown) => {
          log.error({ err: error }, 'a key could not be checked');
          done(refusal('unavailable'), false);
        },
      );
    },
    authorizePublish(client, packet, done) {
      const visit = client ? visits.get(client.conn) : undefined;
      if (client === null || visit?.loggerId === undefined) return done(new Error('nobody publishes'));
      packet.retain = false;
      publish(visit, visit.loggerId, packet, done);
    },
    authorizeSubscribe(client, subscription, done) {
      const visit = visits.get(client.conn);
      const granted = visit?.loggerId !== undefined && maySubscribe(visit, visit.loggerId, subscription.topic);
      if (granted) listening.add(visit);
      done(null, granted ? subscription : null);
    },
  });
  // Loggers publish and hardly ever subscribe: while none does, a message is handed on to nobody, which saves a third
  // of the broker's work for it. The broker's own announcements have no client and take the usual way.
  const handOn = aedes.publish.bind(aedes) as (...given: unknown[]) => void;
  aedes.publish = ((packet: PublishPacket, client: Client | (() => void) | null, done?: (error: null) => void) => {
    if (listening.size > 0 || client === null || typeof client === 'function' || done === undefined) {
      handOn(packet, client, done);
    } else done(null);
  }) as typeof aedes.publish;
  aedes.on('client', (client: Client) => {
    const loggerId = visits.get(client.conn)?.loggerId;
    if (loggerId !== undefined) collector.connectionOpened(loggerId);
  });
  aedes.on('clientDisconnect', (client: Client) => {
    const loggerId = loggerOf.get(client.conn);
    if (loggerId !== undefined) collector.connectionClosed(loggerId);
  });
  aedes.on('clientError', () => undefined);
  aedes.on('connectionError', () => undefined);
  (aedes as unknown as NodeJS.EventEmitter).on('error', (error) => log.error({ err: error }, 'the broker failed'));
  const loggerOf = new WeakMap<object, string>();

  function publish(visit: Visit, loggerId: string, packet: PublishPacket, done: (error?: Error | null) => void): void {
    const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload;
    if (!packet.topic.startsWith(visit.ownTopics) && collector.mappedTo(packet.topic) !== loggerId) {
      const ended = (): void => done(new Error(`${loggerId} may publish under ${allowed(loggerId)} only`));
      // Where even the refusal can't be recorded, the connection still has to end.
      refuseTopic(visit, loggerId, packet.topic, payload).then(ended, ended);
      return;
    }
    room.enter(visit, payload.length);
    const message = {
      topic: packet.topic,
      payload,
      qos: packet.qos === 0 ? (0 as const) : (1 as const),
      duplicate: packet.dup === true,
      retainedDelivery: false,
      arrivedMs: collector.nowMs(),
    };
    collector.take(message, (fault) => {
      if (fault === undefined) {
        room.leave(visit, payload.length);
        done(null);
        return;
      }
      // Unanswered, the logger keeps the message; ended a little later, it doesn't come back at once. Until then it
      // counts as waiting, or a fast sender would fill the memory meanwhile.
      setTimeout(() => {
        room.leave(visit, payload.length);
        done(new Error('the message could not be stored'));
      }, FAILING_WAIT_MS);
    });
  }

  function allowed(loggerId: string): string {
    const filter = collector.filterOf(loggerId);
    return filter === undefined ? allowedTopics(loggerId) : `${allowedTopics(loggerId)} and ${filter}`;
  }

  /** By MQTT 3.1.1 a server can't say no to a publish but by closing, so the logger's page says it. */
  async function refuseTopic(visit: Visit, loggerId: string, topic: string, payload: Uint8Array): Promise<void> {
    const fields = { loggerId, address: visit.address, topic: shownTopic(topic), allowed: allowed(loggerId) };
    if (door.offended(loggerId)) log.warn(fields, 'a logger publishes under a topic that is not its own');
    const reason = `the logger may publish under ${allowed(loggerId)} only; the connection was closed`;
    await collector.recordRefusal({ loggerId, topic, atMs: collector.nowMs(), reason, payload });
  }

  function gateFault(visit: Visit, fault: GateFault): void {
    const { loggerId, address } = visit;
    if (loggerId === undefined) {
      door.strangerFailed(address);
      return;
    }
    const reason = `${describeFault(fault)}; the connection was closed`;
    if (door.offended(loggerId)) log.warn({ loggerId, address }, reason);
    const refused = {
      loggerId,
      topic: allowedTopics(loggerId),
      atMs: collector.nowMs(),
      reason,
      payload: new Uint8Array(0),
    };
    collector.recordRefusal(refused).catch((error: unknown) => log.warn({ err: error }, 'a refusal was not recorded'));
  }

  /** Under its own topics only, and few: each is kept as long as the connection. */
  function maySubscribe({ filters }: Visit, loggerId: string, filter: string): boolean {
    if (!isUnder(filter, loggerId) || filter.length > LONGEST_FILTER) return false;
    if (filters.size >= MOST_FILTERS && !filters.has(filter)) return false;
    filters.add(filter);
    return true;
  }

  function admit(socket: Socket): boolean {
    if (!stopped && door.admit(socket)) return true;
    socket.destroy();
    return false;
  }

  function welcome(socket: Socket): void {
    socket.setNoDelay(true);
    socket.setKeepAlive(true, 60_000);
    const gate = new PacketGate(socket, MAX_PACKET_BYTES, (fault) => gateFault(visit, fault));
    const visit: Visit = {
      address: socket.remoteAddress ?? '',
      gate,
      loggerId: undefined,
      ownTopics: '',
      waitingMessages: 0,
      waitingBytes: 0,
      filters: new Set(),
    };
    visits.set(gate, visit);
    // A will is published after the connection has closed; the visit is needed until then.
    gate.once('close', () => {
      listening.delete(visit);
      room.forget(visit);
      setTimeout(() => visits.delete(gate), 1000).unref();
    });
    aedes.handle(gate);
  }

  const plain = createServer((socket) => {
    if (admit(socket)) welcome(socket);
  });
  const servers: Server[] = [plain];
  const port = await listen(plain, options.host, options.port, 'mqtt-port').catch(abandon);
  let tlsPort: number | undefined;
  if (options.tls) {
    const { cert, key } = options.tls;
    const secure = createTlsServer({ cert, key, handshakeTimeout: CONNECT_WITHIN_MS }, welcome);
    secure.on('connection', admit);
    secure.on('tlsClientError', () => undefined);
    servers.push(secure);
    tlsPort = await listen(secure, options.host, options.tls.port, 'mqtt-tls-port').catch(abandon);
  }
  const address = `mqtt://${options.host}:${port}`;

  async function abandon(error: unknown): Promise<never> {
    await stop();
    throw error;
  }

  async function stop(): Promise<void> {
    if (stopped) return;
    stopped = true;
    const closed = Promise.all(servers.map(closeServer));
    await new Promise<void>((resolve) => aedes.close(() => resolve()));
    for (const { gate } of visits.values()) gate.destroy();
    await closed;
  }

  return {
    port,
    tlsPort,
    address,
    health: () => ({ state: stopped ? 'stopped' : 'listening', message: undefined, address }),
    disconnect(loggerId) {
      for (const visit of visits.values()) if (visit.loggerId === loggerId) visit.gate.destroy();
    },
    stop,
  };
}

function describeFault(fault: GateFault): string {
  switch (fault.kind) {
    case 'oversized':
      return `a packet of ${fault.bytes} bytes; at most ${MAX_PAYLOAD_BYTES} bytes of payload are taken`;
    case 'unread':
      return `the logger subscribes but doesn't read: ${fault.bytes} bytes waited for it, at most ${MAX_UNREAD_BYTES} are kept`;
    case 'malformed':
      return "a packet that isn't MQTT";
  }
}

/**
 * No session outlives its connection (a name is free to choose, so kept sessions could be piled up), and names are
 * apart by logger: taking over a connection needs the same logger's key.
 */
function ownSession(packet: ConnectPacket): void {
  packet.clean = true;
  if (packet.clientId !== '') packet.clientId = `${packet.username ?? ''}/${packet.clientId}`;
}

/** CONNACK's return codes, MQTT 3.1.1 table 3.1. */
function refusal(verdict: 'wrong' | 'unavailable'): AuthenticateError {
  const returnCode = verdict === 'wrong' ? 4 : 3;
  return Object.assign(new Error(verdict === 'wrong' ? 'wrong user name or key' : 'try again later'), { returnCode });
}

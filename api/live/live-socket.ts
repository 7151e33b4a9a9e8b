import type { IncomingMessage, Server } from 'node:http';
import type { Duplex } from 'node:stream';
import { WebSocket, WebSocketServer } from 'ws';
import type { Clock } from '../../collector/model/clock.ts';
import { Problem } from '../../collector/model/problem.ts';
import { type FollowedSubject, LIVE_VERSION, type LiveFrame, readFollowMessage } from '../contract/live-frames.ts';
import { ROUTES } from '../contract/route-table.ts';

/** Open sockets; a browser opens one a page. */
const READERS_LIMIT = 100;
/** Bytes that may wait for a slow reader; beyond it frames are left out, and it is told so once it has caught up. */
const BACKLOG_LIMIT_BYTES = 1024 * 1024;
/** The page says whose findings it shows and nothing else: a reader that sends much is none of ours. */
const INCOMING_LIMIT_BYTES = 1024;
/** A reader that answers no ping within this is gone. */
const HEARTBEAT_MS = 30_000;

export interface LiveSocket {
  readers(): number;
  /** Whose findings are shown by the open pages, each once. */
  followed(): FollowedSubject[];
  /** To all readers, or to those only that follow a subject. */
  send(frame: LiveFrame, to?: FollowedSubject): void;
  /** Answers upgrade requests of a server. */
  attach(server: Server): void;
  /** Ends all connections. */
  stop(): void;
}

export function createLiveSocket(needs: {
  clock: Clock;
  product: string;
  /** Throws the Problem for which an upgrade is refused: Host, Origin, session. */
  admit: (request: IncomingMessage) => void;
  /** Status, headers and text of a refusal, as any other answer of the API. */
  refusal: (thrown: unknown) => { status: number; body: string };
}): LiveSocket {
  const { clock, product, admit, refusal } = needs;
  const sockets = new WebSocketServer({
    noServer: true,
    maxPayload: INCOMING_LIMIT_BYTES,
    perMessageDeflate: false,
    clientTracking: true,
  });
  const alive = new WeakSet<WebSocket>();
  const behind = new WeakSet<WebSocket>();
  const follows = new WeakMap<WebSocket, FollowedSubject>();
  const stopHeartbeat = clock.every(HEARTBEAT_MS, () => {
    for (const socket of sockets.clients) {
      if (!alive.has(socket)) {
        socket.terminate();
        continue;
      }
      alive.delete(socket);
      socket.ping();
    }
  });

  function upgrade(request: IncomingMessage, connection: Duplex, head: Buffer): void {
    connection.on('error', () => connection.destroy());
    try {
      admit(request);
      if (new URL(request.url ?? '/', 'http://host').pathname !== ROUTES.live.path)
        throw new Problem('unknown_route', 'There is no WebSocket at this address', `Open ${ROUTES.live.path}`);
      if (sockets.clients.size >= READERS_LIMIT)
        throw new Problem('too_many_readers', `${READERS_LIMIT} live connections are open`, 'Close some pages');
    } catch (thrown) {
      const { status, body } = refusal(thrown);
      connection.end(
        `HTTP/1.1 ${status} Refused\r\nContent-Type: application/problem+json\r\nContent-Length: ${Buffer.byteLength(body)}\r\nConnection: close\r\n\r\n${body}`,
      );
      return;
    }
    sockets.handleUpgrade(request, connection, head, welcome);
  }

  function welcome(socket: WebSocket): void {
    alive.add(socket);
    socket.on('pong', () => alive.add(socket));
    socket.on('error', () => socket.terminate());
    socket.on('message', (data, isBinary) => {
      const subject = isBinary ? undefined : readFollowMessage(data.toString());
      if (subject) follows.set(socket, subject);
      else if (subject === null) follows.delete(socket);
    });
    // Each ping is answered at once: who sends many and reads none would have the answers pile up.
    socket.on('ping', () => {
      if (socket.bufferedAmount > BACKLOG_LIMIT_BYTES) socket.terminate();
    });
    socket.send(
      JSON.stringify({ type: 'hello', version: LIVE_VERSION, nowMs: clock.nowMs(), product } satisfies LiveFrame),
    );
  }

  return {
    readers: () => sockets.clients.size,
    followed() {
      const subjects = new Map<string, FollowedSubject>();
      for (const socket of sockets.clients) {
        const subject = follows.get(socket);
        if (subject) subjects.set(subjectKey(subject), subject);
      }
      return [...subjects.values()];
    },
    send(frame, to) {
      if (sockets.clients.size === 0) return;
      const text = JSON.stringify(frame);
      const wanted = to && subjectKey(to);
      for (const socket of sockets.clients) {
        const subject = follows.get(socket);
        if (wanted !== undefined && (!subject || subjectKey(subject) !== wanted)) continue;
        if (socket.readyState !== WebSocket.OPEN) continue;
        if (socket.bufferedAmount > BACKLOG_LIMIT_BYTES) {
          behind.add(socket);
          continue;
        }
        if (behind.delete(socket))
          socket.send(JSON.stringify({ type: 'missed', version: LIVE_VERSION } satisfies LiveFrame));
        socket.send(text);
      }
    },
    attach: (server) => void server.on('upgrade', upgrade),
    stop() {
      stopHeartbeat();
      for (const socket of sockets.clients) socket.terminate();
      sockets.close();
    },
  };
}

export function subjectKey(subject: FollowedSubject): string {
  return 'site' in subject ? `site ${subject.site}` : `logger ${subject.logger}`;
}

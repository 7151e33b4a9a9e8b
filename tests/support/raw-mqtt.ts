import { connect, type Socket } from 'node:net';

/* MQTT 3.1.1 packets written byte by byte, so that they can be broken; section numbers are the standard's. */

const text = (value: string): Buffer => {
  const bytes = Buffer.from(value);
  const head = Buffer.alloc(2);
  head.writeUInt16BE(bytes.length);
  return Buffer.concat([head, bytes]);
};

/** Fixed header (section 2.2) and the rest. */
export function packet(firstByte: number, body: Uint8Array): Buffer {
  const head = [firstByte];
  let left = body.length;
  do {
    head.push((left % 128) | (left >= 128 ? 128 : 0));
    left = Math.floor(left / 128);
  } while (left > 0);
  return Buffer.concat([Buffer.from(head), body]);
}

/** CONNECT (section 3.1). */
export function connectPacket(
  clientId: string,
  user: string,
  key: string,
  will?: { topic: string; payload: string },
): Buffer {
  const flags = 0xc2 | (will ? 0x0c : 0);
  const parts = [text('MQTT'), Buffer.from([4, flags, 0, 60]), text(clientId)];
  if (will) parts.push(text(will.topic), text(will.payload));
  return packet(0x10, Buffer.concat([...parts, text(user), text(key)]));
}

/** PUBLISH (section 3.3). */
export function publishPacket(
  topic: string,
  payload: Uint8Array,
  more: { qos?: 0 | 1 | 2; id?: number; duplicate?: boolean; retain?: boolean } = {},
): Buffer {
  const { qos = 1, id = 1, duplicate = false, retain = false } = more;
  const identifier = Buffer.alloc(qos > 0 ? 2 : 0);
  if (qos > 0) identifier.writeUInt16BE(id);
  const flags = (duplicate && qos > 0 ? 8 : 0) | (qos << 1) | (retain ? 1 : 0);
  return packet(0x30 | flags, Buffer.concat([text(topic), identifier, payload]));
}

/** SUBSCRIBE (section 3.8). */
export function subscribePacket(id: number, filters: readonly string[]): Buffer {
  const identifier = Buffer.alloc(2);
  identifier.writeUInt16BE(id);
  return packet(0x82, Buffer.concat([identifier, ...filters.flatMap((filter) => [text(filter), Buffer.of(0)])]));
}

export const PINGREQ = Buffer.of(0xc0, 0);
export const DISCONNECT = Buffer.of(0xe0, 0);

/** A connection to the broker; `localAddress` lets many seem to come from as many machines (any of 127.0.0.0/8). */
export function openSocket(port: number, localAddress = '127.0.0.1'): Socket {
  const socket = connect({ port, host: '127.0.0.1', localAddress, noDelay: true });
  socket.on('error', () => undefined);
  return socket;
}

/** Resolves once the connection has closed, whoever closed it. */
export function closed(socket: Socket): Promise<void> {
  return new Promise((resolve) => (socket.closed ? resolve() : socket.once('close', () => resolve())));
}

/** The broker's packets as they come: each one's first byte and body. */
export function followPackets(socket: Socket, onPacket: (firstByte: number, body: Buffer) => void): void {
  let waiting: Buffer = Buffer.alloc(0);
  socket.on('data', (chunk: Buffer) => {
    waiting = waiting.length === 0 ? chunk : Buffer.concat([waiting, chunk]);
    for (;;) {
      let length = 0;
      let at = 1;
      let more = true;
      for (; more && at < waiting.length && at < 5; at++) {
        length += (waiting[at]! & 127) * 128 ** (at - 1);
        more = (waiting[at]! & 128) !== 0;
      }
      if (more || waiting.length < at + length) return;
      onPacket(waiting[0]!, waiting.subarray(at, at + length));
      waiting = waiting.subarray(at + length);
    }
  });
}

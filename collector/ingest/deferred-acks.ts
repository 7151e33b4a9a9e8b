/*
 * Acknowledge after commit with mqtt.js 5, which acknowledges by itself. Its receive loop handles one packet at a time
 * and goes on when the callback of `client.handleMessage` is called: without an error it sends the PUBACK, called back
 * WITH an error it sends none, raises nothing and goes on. So it is always answered with a fixed error, at once, and
 * the identifier is kept; once the message is committed its PUBACK (4 bytes, the same in MQTT 3.1.1 and 5) is written
 * to the stream, in order of arrival. Identifiers belong to one connection: those of an older stream are dropped, the
 * broker sends those messages again. That a callback's error means "no PUBACK" isn't documented; a test pins it.
 */

/** The parts of mqtt.js's client that are leant on. */
export interface AckingClient {
  stream: { readonly destroyed: boolean; write(bytes: Uint8Array): unknown };
  handleMessage(packet: DeliveredPacket, callback: (error?: Error) => void): void;
}

export interface DeliveredPacket {
  readonly topic: string;
  readonly payload: string | Uint8Array;
  readonly qos: 0 | 1 | 2;
  readonly dup: boolean;
  readonly retain: boolean;
  readonly messageId?: number | undefined;
}

export interface DeferredAcksOptions {
  /** Calls back once the message may be acknowledged, or with what forbids it. */
  take(packet: DeliveredPacket, taken: (fault: { readonly error: unknown } | undefined) => void): void;
  /** Unacknowledged messages and bytes at which reading stops. Not every broker keeps its own window. */
  readonly windowMessages: number;
  readonly windowBytes: number;
  /** A message was not accepted: it and what follows stay unacknowledged on this connection, which should be renewed. */
  onRefused(error: unknown): void;
}

export interface DeferredAcks {
  /** Messages taken and not yet acknowledged. */
  outstanding(): number;
}

interface Taken {
  readonly messageId: number;
  readonly bytes: number;
  settled: boolean;
}

const DEFERRED = new Error('acknowledged after commit');

export function deferAcks(client: AckingClient, options: DeferredAcksOptions): DeferredAcks {
  let stream: AckingClient['stream'] | undefined;
  let taken: Taken[] = [];
  let bytes = 0;
  let flushing = false;
  let goOn: (() => void) | undefined;

  function startStream(): void {
    stream = client.stream;
    taken = [];
    bytes = 0;
    goOn = undefined;
  }

  function flush(): void {
    flushing = false;
    let settled = 0;
    while (settled < taken.length && taken[settled]!.settled) settled += 1;
    const ids: number[] = [];
    for (const { messageId, bytes: size } of taken.splice(0, settled)) {
      bytes -= size;
      if (messageId > 0) ids.push(messageId);
    }
    if (ids.length > 0 && stream === client.stream && stream && !stream.destroyed) stream.write(pubacks(ids));
    if (goOn && !full()) {
      const next = goOn;
      goOn = undefined;
      next();
    }
  }

  function full(): boolean {
    return taken.length >= options.windowMessages || bytes >= options.windowBytes;
  }

  client.handleMessage = (packet, callback) => {
    if (stream !== client.stream) startStream();
    const own = stream;
    const entry: Taken = {
      messageId: packet.qos === 1 ? (packet.messageId ?? 0) : 0,
      bytes: packet.payload.length,
      settled: false,
    };
    taken.push(entry);
    bytes += entry.bytes;
    options.take(packet, (fault) => {
      if (own !== stream) return;
      if (fault) return options.onRefused(fault.error);
      entry.settled = true;
      if (flushing) return;
      flushing = true;
      setImmediate(flush);
    });
    if (full()) goOn = () => callback(DEFERRED);
    else callback(DEFERRED);
  };
  return { outstanding: () => taken.length };
}

/** PUBACK packets (MQTT 3.1.1 section 3.4; MQTT 5 with reason code 0 left out, section 3.4.2.1), one after the other. */
function pubacks(ids: readonly number[]): Buffer {
  const packets = Buffer.allocUnsafe(ids.length * 4);
  ids.forEach((id, i) => {
    packets.writeUInt16BE(0x4002, i * 4);
    packets.writeUInt16BE(id, i * 4 + 2);
  });
  return packets;
}

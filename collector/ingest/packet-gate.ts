import type { Socket } from 'node:net';
import { Duplex } from 'node:stream';

/*
 * Stands between a socket and the broker's parser, which takes a packet of any size: reads only the fixed headers
 * (MQTT 3.1.1 section 2.2) and ends the connection before an oversized body is taken in. It also stops reading while
 * too much of what came waits for its commit, and ends a connection that doesn't read what it subscribed to.
 */

/** A CONNECT with names, key and will; nothing bigger is taken from somebody who hasn't shown a key. */
export const MAX_CONNECT_BYTES = 4096;
/** How long a connection that is ended stays for its last words to be read; a stop of the program waits no longer. */
const LAST_WORDS_MS = 1000;
/** Four bytes of seven bits (section 2.2.3). */
const MAX_LENGTH_BYTES = 4;

/**
 * What may wait for a client to read it, four of the largest messages. The broker would keep the rest for it, in
 * memory, and hold back what others are to read.
 */
export const MAX_UNREAD_BYTES = 1024 * 1024;

export type GateFault =
  | { readonly kind: 'oversized' | 'unread'; readonly bytes: number }
  | { readonly kind: 'malformed' };

/** Follows the fixed headers through a stream of chunks, wherever they are cut. */
export interface HeaderScan {
  /** The first fault in the stream, or undefined. */
  scan(chunk: Uint8Array): GateFault | undefined;
  /** The newest packet's first byte. */
  readonly firstByte: number;
}

/** `limitOf(n)` is the largest body in bytes of the n-th packet (from 0). */
export function createHeaderScan(limitOf: (packet: number) => number): HeaderScan {
  let packet = 0;
  let firstByte = -1;
  let inHeader = false;
  let lengthBytes = 0;
  let length = 0;
  let bodyLeft = 0;
  return {
    get firstByte() {
      return firstByte;
    },
    scan(chunk) {
      let at = 0;
      while (at < chunk.length) {
        if (bodyLeft > 0) {
          const taken = Math.min(bodyLeft, chunk.length - at);
          bodyLeft -= taken;
          at += taken;
          continue;
        }
        const byte = chunk[at]!;
        at += 1;
        if (!inHeader) {
          inHeader = true;
          firstByte = byte;
          lengthBytes = 0;
          length = 0;
          continue;
        }
        length += (byte & 0x7f) * 128 ** lengthBytes;
        lengthBytes += 1;
        if (byte & 0x80) {
          if (lengthBytes === MAX_LENGTH_BYTES) return { kind: 'malformed' };
          continue;
        }
        if (length > limitOf(packet)) return { kind: 'oversized', bytes: length };
        inHeader = false;
        packet += 1;
        bodyLeft = length;
      }
      return undefined;
    },
  };
}

/** The socket as the broker sees it. */
export class PacketGate extends Duplex {
  readonly #socket: Socket;
  readonly #scan: HeaderScan;
  readonly #onFault: (fault: GateFault) => void;
  #held = false;
  #wanted = false;

  constructor(socket: Socket, maxPacketBytes: number, onFault: (fault: GateFault) => void) {
    super({ allowHalfOpen: false });
    this.#socket = socket;
    this.#onFault = onFault;
    this.#scan = createHeaderScan((packet) => (packet === 0 ? MAX_CONNECT_BYTES : maxPacketBytes));
    socket.on('data', (chunk: Buffer) => this.#take(chunk));
    socket.on('end', () => this.push(null));
    socket.on('error', (error) => this.destroy(error));
    socket.on('close', () => this.destroy());
    socket.pause();
  }

  /** Nothing more is read from the socket until `resumeReading`; the sender's own window then fills. */
  holdReading(): void {
    this.#held = true;
    this.#socket.pause();
  }

  resumeReading(): void {
    this.#held = false;
    if (this.#wanted) this.#socket.resume();
  }

  #take(chunk: Buffer): void {
    if (this.destroyed) return;
    const fault = this.#scan.scan(chunk);
    if (fault) {
      this.#end(fault);
      return;
    }
    if (!this.push(chunk)) {
      this.#wanted = false;
      this.#socket.pause();
    }
  }

  override _read(): void {
    this.#wanted = true;
    if (!this.#held) this.#socket.resume();
  }

  #end(fault: GateFault): void {
    this.#onFault(fault);
    this.#socket.destroy();
    this.destroy();
  }

  override write(chunk: unknown, encoding?: unknown, done?: unknown): boolean {
    const more = super.write(chunk, encoding as BufferEncoding, done as () => void);
    if (!this.destroyed && this.writableLength > MAX_UNREAD_BYTES)
      this.#end({ kind: 'unread', bytes: this.writableLength });
    return more;
  }

  override _write(chunk: Buffer, _encoding: BufferEncoding, done: (error?: Error | null) => void): void {
    if (this.#socket.destroyed) done();
    else if (this.#socket.write(chunk)) done();
    else this.#socket.once('drain', () => done());
  }

  override _writev(chunks: { chunk: Buffer }[], done: (error?: Error | null) => void): void {
    this._write(Buffer.concat(chunks.map(({ chunk }) => chunk)), 'binary', done);
  }

  override _final(done: (error?: Error | null) => void): void {
    this.#socket.end();
    done();
  }

  override _destroy(error: Error | null, done: (error?: Error | null) => void): void {
    // What was written last (a refusal's CONNACK) still leaves before the socket closes, if it is read.
    if (!this.#socket.destroyed) {
      this.#socket.destroySoon();
      const tooLate = setTimeout(() => this.#socket.destroy(), LAST_WORDS_MS);
      this.#socket.once('close', () => clearTimeout(tooLate));
    }
    done(error);
  }
}

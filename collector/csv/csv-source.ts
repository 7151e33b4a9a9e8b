import { createReadStream } from 'node:fs';
import { Readable } from 'node:stream';
import { createGunzip } from 'node:zlib';
import { Problem } from '../model/problem.ts';
import { type TextEncoding, unreadable } from './csv-tokens.ts';

/** Bytes that can be read from their beginning more than once: a file, an upload spooled to one, or a buffer. */
export interface CsvSource {
  open(): Readable;
}

/** A chunk is tokenized in one go: two thousand rows or so keep a server waiting for a few milliseconds only. */
const CHUNK_BYTES = 65_536;
/** How much of the unpacked file the grammar and the columns are found from. */
export const HEAD_BYTES = 262_144;

/**
 * Times alone change from row to row, so that a log packs to a twentieth at the best; deflate goes up to 1,032 times
 * (RFC 1951), which would keep the program reading for hours what came in seconds.
 */
const MOST_TIMES_UNPACKED = 200;
const UNPACKED_FREELY_BYTES = 16 * 1024 * 1024;

/** The unpacked beginning of a file. */
export interface CsvHead {
  readonly bytes: Buffer;
  /** False where the file goes on after it. */
  readonly whole: boolean;
  readonly encoding: TextEncoding;
}

export function fileSource(path: string): CsvSource {
  return { open: () => createReadStream(path, { highWaterMark: CHUNK_BYTES }) };
}

export function bytesSource(bytes: Uint8Array): CsvSource {
  return { open: () => Readable.from([Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)]) };
}

/** Plain bytes of a source, unpacked where the first two bytes are gzip's (RFC 1952 section 2.3.1). */
export async function* plainBytes(source: CsvSource): AsyncGenerator<Buffer> {
  const input = source.open();
  const chunks = input[Symbol.asyncIterator]();
  try {
    let first = Buffer.alloc(0);
    while (first.length < 4) {
      const next = await chunks.next();
      if (next.done) break;
      first = Buffer.concat([first, next.value as Buffer]);
    }
    refuseOtherFormats(first);
    const rest = (async function* () {
      if (first.length > 0) yield first;
      for (let next = await chunks.next(); !next.done; next = await chunks.next()) yield next.value as Buffer;
    })();
    if (first[0] !== 0x1f || first[1] !== 0x8b) {
      yield* rest;
      return;
    }
    const packed = Readable.from(rest);
    const gunzip = createGunzip();
    packed.on('error', (error) => gunzip.destroy(error));
    packed.pipe(gunzip);
    try {
      let unpacked = 0;
      for await (const chunk of gunzip as AsyncIterable<Buffer>) {
        unpacked += chunk.length;
        if (unpacked > UNPACKED_FREELY_BYTES && unpacked > gunzip.bytesWritten * MOST_TIMES_UNPACKED) throw bomb();
        yield chunk;
      }
    } finally {
      gunzip.destroy();
      packed.destroy();
    }
  } finally {
    input.destroy();
  }
}

/** The first 256 kB of the plain bytes. `cut`: the source itself is only a beginning, so a gzip stream may break off. */
export async function readHead(source: CsvSource, cut = false): Promise<CsvHead> {
  const parts: Buffer[] = [];
  let length = 0;
  let whole = !cut;
  try {
    for await (const chunk of plainBytes(source)) {
      parts.push(chunk);
      length += chunk.length;
      if (length > HEAD_BYTES) {
        whole = false;
        break;
      }
    }
  } catch (error) {
    if (!cut || (error as NodeJS.ErrnoException).code !== 'Z_BUF_ERROR') throw unreadable(error);
  }
  const bytes = Buffer.concat(parts).subarray(0, HEAD_BYTES);
  return { bytes, whole, encoding: encodingOf(bytes) };
}

/** Spreadsheets write "Unicode text" as UTF-16 with a byte order mark; old loggers write Latin-1. */
function encodingOf(head: Buffer): TextEncoding {
  if (head[0] === 0xff && head[1] === 0xfe) return 'utf16le';
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(head, { stream: true });
    return 'utf8';
  } catch {
    return 'latin1';
  }
}

function bomb(): Problem {
  return new Problem(
    'unreadable_csv',
    `The file unpacks to more than ${MOST_TIMES_UNPACKED} times its size, which no log of readings does.`,
    'Unpack it and look at what it holds, or send the plain file. Rows before that place may have been stored.',
  );
}

function refuseOtherFormats(first: Buffer): void {
  const found =
    first[0] === 0x50 && first[1] === 0x4b
      ? 'a zip archive or a spreadsheet'
      : first[0] === 0xfe && first[1] === 0xff
        ? 'text in big-endian UTF-16'
        : first.toString('latin1') === '%PDF'
          ? 'a PDF'
          : undefined;
  if (found === undefined) return;
  throw new Problem(
    'unreadable_csv',
    `The file isn't CSV but ${found}.`,
    'Unpack it, or export it as CSV in UTF-8, and send that. Nothing was stored.',
  );
}

import type { SentRun } from '../model/series.ts';
import { ByteReader, ByteWriter } from './byte-stream.ts';
import { type Packing, readNumbers, writeNumbers } from './number-column.ts';
import { readTimes, writeTimes } from './time-column.ts';

/*
 * The bytes of one hour of one channel: runs of one unit each, ascending in time. The same form, left undeflated,
 * holds a piece in the tail. Layout: format 1; number of runs; per run its unit, count, times, values, flags.
 */
const FORMAT = 1;
/** More samples than an hour can hold at one a millisecond: a damaged count must not fill the memory. */
const MOST_SAMPLES = 3_600_000;

/**
 * Runs of one UTC hour as bytes, exactly: whole milliseconds, finite values. Times ascend strictly over all runs.
 * `startMs` is the hour's start.
 */
export function encodeRuns(startMs: number, runs: readonly SentRun[], packing: Packing): Uint8Array {
  const writer = new ByteWriter(64 + 3 * runs.reduce((sum, run) => sum + run.timeMs.length, 0));
  writer.byte(FORMAT);
  writer.varint(runs.length);
  for (const run of runs) {
    writer.shortText(run.unit);
    writer.varint(run.timeMs.length);
    writeTimes(
      writer,
      run.timeMs.map((atMs) => atMs - startMs),
      packing,
    );
    writeNumbers(writer, run.value, packing);
    writeFlags(writer, run.flags);
  }
  return writer.view().slice();
}

/** The runs that `encodeRuns` was given; throws a RangeError (or zlib's error) where the bytes are damaged. */
export function decodeRuns(startMs: number, bytes: Uint8Array): SentRun[] {
  const reader = new ByteReader(bytes);
  const format = reader.byte();
  if (format !== FORMAT) throw new RangeError(`unknown block format ${format}`);
  const runs: SentRun[] = [];
  for (let left = reader.varint(); left > 0; left--) {
    const unit = reader.shortText();
    const count = reader.varint();
    if (count > MOST_SAMPLES) throw new RangeError(`a run of ${count} samples in one hour`);
    const timeMs = readTimes(reader, count, startMs);
    const value = readNumbers(reader, count);
    runs.push({ unit, timeMs, value, flags: readFlags(reader, count) });
  }
  return runs;
}

/** Flags come in long stretches, so they are kept as (bits, length) pairs; most runs have none at all. */
function writeFlags(writer: ByteWriter, flags: Uint8Array | undefined): void {
  const stretches: [number, number][] = [];
  for (const bits of flags ?? []) {
    const open = stretches.at(-1);
    if (open && open[0] === bits) open[1]++;
    else stretches.push([bits, 1]);
  }
  const none = stretches.every(([bits]) => bits === 0);
  writer.varint(none ? 0 : stretches.length);
  if (none) return;
  for (const [bits, length] of stretches) {
    writer.byte(bits);
    writer.varint(length);
  }
}

function readFlags(reader: ByteReader, count: number): Uint8Array | undefined {
  const stretches = reader.varint();
  if (stretches === 0) return undefined;
  const flags = new Uint8Array(count);
  let at = 0;
  for (let i = 0; i < stretches; i++) {
    const bits = reader.byte();
    const length = reader.varint();
    flags.fill(bits, at, at + length);
    at += length;
  }
  return flags;
}

import { constants, deflateRawSync, inflateRawSync } from 'node:zlib';
import { type ByteReader, ByteWriter } from './byte-stream.ts';
import { bestSmoothing, LARGEST_SMOOTHED, restore, SMOOTHINGS, type Smoothing, surprises } from './prediction.ts';

/*
 * A column of numbers as bytes, exactly. What sensors send are short decimals, so the column becomes whole multiples of
 * its resolution: value = (first + step · k) / 10^exponent. Of k only what a simple guess leaves over is kept
 * (`prediction.ts`), zig-zag, variable length, deflated.
 * Columns that are no short decimals (a converter's binary fractions beyond 15 places) are kept as the eight bytes of
 * each float, grouped by place so that equal exponents lie side by side.
 */

/** Whether streams are deflated (sealed blocks) or left as they are (pieces that are rewritten within the hour). */
export type Packing = 'deflated' | 'plain';

const LAYOUT = { floats: 0, differences: 1, smoothed: 2 } as const;
/** How a stream's bytes are coded. Both deflate forms are read alike; two names record which one won. */
const CODEC = { none: 0, deflate: 1, huffmanOnly: 2 } as const;

const POWERS_OF_TEN = Array.from({ length: 16 }, (_, exponent) => 10 ** exponent);
/** Multiples beyond this could lose a unit when differences are folded; such columns are kept as floats. */
const LARGEST_MULTIPLE = 2 ** 50;
/** Below this many bytes deflate's own header costs more than it saves. */
const SMALLEST_DEFLATED = 24;

/** Appends the column to `writer`. Every value is finite; minus nought comes back as nought. */
export function writeNumbers(writer: ByteWriter, values: Float64Array, packing: Packing): void {
  const decimals = asDecimals(values);
  if (!decimals) {
    writer.byte(LAYOUT.floats);
    writeStream(writer, bytePlanes(values), packing);
    return;
  }
  const { exponent, multiples } = decimals;
  const step = commonStep(multiples);
  const first = multiples[0] ?? 0;
  const steps = packing === 'deflated' ? smallSteps(multiples, first, step) : undefined;
  const smoothing = steps ? bestSmoothing(steps) : 0;
  writer.byte(smoothing === 0 ? LAYOUT.differences : LAYOUT.smoothed);
  writer.byte(exponent);
  writer.varint(step);
  writer.signedVarint(first);
  const stream = new ByteWriter(values.length + 16);
  if (steps && smoothing !== 0) {
    writer.byte(smoothing);
    for (const residual of surprises(steps, smoothing)) stream.signedVarint(residual);
  } else {
    for (let i = 1; i < multiples.length; i++) stream.signedVarint((multiples[i]! - multiples[i - 1]!) / step);
  }
  writeStream(writer, stream.view(), packing);
}

/** Reads `count` values that `writeNumbers` wrote. */
export function readNumbers(reader: ByteReader, count: number): Float64Array {
  const layout = reader.byte();
  if (layout === LAYOUT.floats) return fromBytePlanes(readStream(reader, count * 8), count);
  if (layout !== LAYOUT.differences && layout !== LAYOUT.smoothed)
    throw new RangeError(`unknown column layout ${layout}`);
  const power = POWERS_OF_TEN[reader.byte()];
  if (power === undefined) throw new RangeError('unknown decimal exponent');
  const step = reader.varint();
  const first = reader.signedVarint();
  const smoothing = layout === LAYOUT.smoothed ? readSmoothing(reader) : 0;
  const values = readSigned(readStream(reader, count * 8), count);
  if (smoothing !== 0) restore(values, smoothing);
  let multiple = first;
  if (count > 0) values[0] = first / power;
  for (let i = 1; i < count; i++) {
    multiple = smoothing === 0 ? multiple + step * values[i]! : first + step * values[i]!;
    values[i] = multiple / power;
  }
  return values;
}

function readSmoothing(reader: ByteReader): Smoothing {
  const seen = reader.byte();
  const smoothing = SMOOTHINGS.find((known) => known === seen);
  if (smoothing === undefined) throw new RangeError(`unknown smoothing ${seen}`);
  return smoothing;
}

/**
 * Signed whole numbers into places 1 to count − 1. The hottest loop of all reading, so those of one byte, nearly all
 * there are, are taken without a call.
 */
function readSigned(stream: Uint8Array, count: number): Float64Array {
  const numbers = new Float64Array(count);
  let at = 0;
  for (let i = 1; i < count; i++) {
    let folded = stream[at++]!;
    if (folded > 127) {
      folded &= 127;
      let scale = 128;
      let next = 128;
      while (next > 127 && at < stream.length) {
        next = stream[at++]!;
        folded += (next & 127) * scale;
        scale *= 128;
      }
      numbers[i] = folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
    } else {
      numbers[i] = (folded >>> 1) ^ -(folded & 1);
    }
  }
  if (at > stream.length) throw new RangeError('stored bytes end too early');
  return numbers;
}

/** Appends bytes with their codec and length, deflated in whichever way is smallest. */
export function writeStream(writer: ByteWriter, bytes: Uint8Array, packing: Packing): void {
  let codec: number = CODEC.none;
  let coded: Uint8Array = bytes;
  if (packing === 'deflated' && bytes.length >= SMALLEST_DEFLATED) {
    const deflated = deflateRawSync(bytes, { level: 6 });
    const huffmanOnly = deflateRawSync(bytes, { level: 6, strategy: constants.Z_HUFFMAN_ONLY });
    const smaller = deflated.length <= huffmanOnly.length ? deflated : huffmanOnly;
    if (smaller.length < bytes.length) {
      codec = smaller === deflated ? CODEC.deflate : CODEC.huffmanOnly;
      coded = smaller;
    }
  }
  writer.byte(codec);
  writer.varint(coded.length);
  writer.raw(coded);
}

/** Reads a stream of at most `limit` bytes once inflated: damaged bytes must not fill the memory. */
export function readStream(reader: ByteReader, limit: number): Uint8Array {
  const codec = reader.byte();
  const coded = reader.raw(reader.varint());
  if (codec === CODEC.none) return coded;
  if (codec > CODEC.huffmanOnly) throw new RangeError(`unknown stream codec ${codec}`);
  // Nearly all streams hold a byte or so a number, an eighth of the limit: one buffer of that size, no more.
  const chunkSize = Math.max(256, Math.min(limit >> 3, 65_536) + 64);
  return inflateRawSync(coded, { maxOutputLength: Math.max(limit, 64), chunkSize });
}

/**
 * The smallest power of ten that turns every value into a whole number which, divided by it again, is the same float.
 * The division is correctly rounded, so a decimal as a program prints it always comes back (at most 15 places).
 */
function asDecimals(values: Float64Array): { exponent: number; multiples: Float64Array } | undefined {
  let exponent = 0;
  let power = 1;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    while (Math.round(value * power) / power !== value) {
      exponent++;
      const next = POWERS_OF_TEN[exponent];
      if (next === undefined) return undefined;
      power = next;
    }
  }
  const multiples = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) {
    const multiple = Math.round(values[i]! * power);
    if (Math.abs(multiple) > LARGEST_MULTIPLE || multiple / power !== values[i]) return undefined;
    multiples[i] = multiple;
  }
  return { exponent, multiples };
}

/** Greatest common divisor of all differences: a converter that counts in fives costs no more than one that counts in ones. */
function commonStep(multiples: Float64Array): number {
  let step = 0;
  for (let i = 1; i < multiples.length && step !== 1; i++) {
    let rest = Math.abs(multiples[i]! - multiples[i - 1]!);
    while (rest !== 0) [step, rest] = [rest, step % rest];
  }
  return step || 1;
}

/** Steps from the first value as small whole numbers, or undefined where one is too large to be smoothed. */
function smallSteps(multiples: Float64Array, first: number, step: number): Int32Array | undefined {
  const steps = new Int32Array(multiples.length);
  for (let i = 0; i < multiples.length; i++) {
    const value = (multiples[i]! - first) / step;
    if (Math.abs(value) > LARGEST_SMOOTHED) return undefined;
    steps[i] = value;
  }
  return steps;
}

function bytePlanes(values: Float64Array): Uint8Array {
  const bytes = new Uint8Array(values.buffer, values.byteOffset, values.byteLength);
  const planes = new Uint8Array(bytes.length);
  for (let place = 0; place < 8; place++) {
    for (let i = 0; i < values.length; i++) planes[place * values.length + i] = bytes[i * 8 + place]!;
  }
  return planes;
}

function fromBytePlanes(planes: Uint8Array, count: number): Float64Array {
  if (planes.length < count * 8) throw new RangeError('stored bytes end too early');
  const values = new Float64Array(count);
  const bytes = new Uint8Array(values.buffer);
  for (let place = 0; place < 8; place++) {
    for (let i = 0; i < count; i++) bytes[i * 8 + place] = planes[place * count + i]!;
  }
  return values;
}

import { parseRfc3339 } from '../model/instant.ts';
import type { EpochMs } from '../model/units.ts';
import { sampleColumns } from './column-arena.ts';
import {
  EARLIEST_PLAUSIBLE_MS,
  LATEST_AFTER_ARRIVAL_MS,
  MAX_BATCH_ENTRIES,
  MAX_PAYLOAD_BYTES,
  SECONDS_BELOW,
} from './intake-limits.ts';

/*
 * The commonest payload by far, read straight from its bytes: one object or an array of objects with exactly `time` and
 * `value`, plain decimals, plausible times. It takes a quarter of the time of reading it as JSON and makes no object an
 * entry. Whatever is a little different is left to the general reader, which alone says what is refused and why; a
 * property test holds the two to the same readings.
 */

const QUOTE = 0x22;
const COMMA = 0x2c;
const MINUS = 0x2d;
const POINT = 0x2e;
const ZERO = 0x30;
const NINE = 0x39;
const COLON = 0x3a;
const OPEN_LIST = 0x5b;
const CLOSE_LIST = 0x5d;
const OPEN_OBJECT = 0x7b;
const CLOSE_OBJECT = 0x7d;

/** Nine digits are kept of a value, so a value of at most nine is kept as it is. */
const VALUE_DIGITS = 9;
/** A whole number below 10^15, divided by a power of ten up to 10^22, is the float that the decimal's text means. */
const TIME_DIGITS = 15;
const POWERS_OF_TEN = Array.from({ length: TIME_DIGITS + 1 }, (_, exponent) => 10 ** exponent);
/** `2026-05-04T06:31:07.250Z` and somewhat more. */
const LONGEST_TIME_TEXT = 40;

const times = new Float64Array(MAX_BATCH_ENTRIES);
const values = new Float64Array(MAX_BATCH_ENTRIES);

let bytes: Uint8Array = new Uint8Array(0);
let at = 0;
let end = 0;

/**
 * Times (ms) and values of a plain batch, in its order; undefined where the general reader must look.
 *
 * @param arrivedMs time of arrival, the measure of what is plausible.
 */
export function readPlainBatch(
  payload: Uint8Array,
  arrivedMs: EpochMs,
): { readonly timeMs: Float64Array; readonly value: Float64Array } | undefined {
  if (payload.length > MAX_PAYLOAD_BYTES) return undefined;
  bytes = payload;
  at = 0;
  end = payload.length;
  const count = readEntries(arrivedMs + LATEST_AFTER_ARRIVAL_MS);
  bytes = NOTHING;
  return count === 0 ? undefined : sampleColumns(times, values, count);
}

const NOTHING = new Uint8Array(0);

/** How many entries were read; nought where anything is out of the ordinary. */
function readEntries(latestMs: EpochMs): number {
  const first = next();
  if (first === OPEN_OBJECT) return readEntry(0, latestMs) && next() === -1 ? 1 : 0;
  if (first !== OPEN_LIST) return 0;
  for (let count = 0; count < MAX_BATCH_ENTRIES; count++) {
    if (next() !== OPEN_OBJECT || !readEntry(count, latestMs)) return 0;
    const after = next();
    if (after === COMMA) continue;
    return after === CLOSE_LIST && next() === -1 ? count + 1 : 0;
  }
  return 0;
}

/** The next byte that isn't JSON's white space, passed over; −1 at the end. */
function next(): number {
  while (at < end) {
    const byte = bytes[at++]!;
    if (byte !== 0x20 && byte !== 0x0a && byte !== 0x0d && byte !== 0x09) return byte;
  }
  return -1;
}

/** What follows an entry's brace, up to and with the closing one. */
function readEntry(index: number, latestMs: EpochMs): boolean {
  let atMs = Number.NaN;
  let value = Number.NaN;
  for (let key = 0; key < 2; key++) {
    if (next() !== QUOTE) return false;
    if (keyIsTime()) {
      if (next() !== COLON || !Number.isNaN(atMs)) return false;
      atMs = readTime();
      if (!(atMs >= EARLIEST_PLAUSIBLE_MS && atMs <= latestMs)) return false;
    } else if (keyIsValue()) {
      if (next() !== COLON || !Number.isNaN(value)) return false;
      value = readDecimal(next(), VALUE_DIGITS);
      if (Number.isNaN(value)) return false;
    } else return false;
    if (next() !== (key === 0 ? COMMA : CLOSE_OBJECT)) return false;
  }
  times[index] = atMs;
  values[index] = value;
  return true;
}

/** `time"`, passed over. */
function keyIsTime(): boolean {
  if (bytes[at] !== 0x74 || bytes[at + 1] !== 0x69 || bytes[at + 2] !== 0x6d || bytes[at + 3] !== 0x65) return false;
  if (bytes[at + 4] !== QUOTE) return false;
  at += 5;
  return true;
}

/** `value"`, passed over. */
function keyIsValue(): boolean {
  if (bytes[at] !== 0x76 || bytes[at + 1] !== 0x61 || bytes[at + 2] !== 0x6c || bytes[at + 3] !== 0x75) return false;
  if (bytes[at + 4] !== 0x65 || bytes[at + 5] !== QUOTE) return false;
  at += 6;
  return true;
}

function readTime(): EpochMs {
  const first = next();
  if (first === QUOTE) return readTimeText();
  const time = readDecimal(first, TIME_DIGITS);
  return Math.round(time < SECONDS_BELOW ? time * 1000 : time);
}

function readTimeText(): EpochMs {
  let text = '';
  const limit = Math.min(end, at + LONGEST_TIME_TEXT);
  while (at < limit) {
    const byte = bytes[at++]!;
    if (byte === QUOTE) return parseRfc3339(text) ?? Number.NaN;
    text += String.fromCharCode(byte);
  }
  return Number.NaN;
}

/**
 * JSON's number (RFC 8259 section 6) without an exponent and of at most so many digits, whose first byte is given;
 * else NaN. Minus nought is nought.
 */
function readDecimal(first: number, mostDigits: number): number {
  const negative = first === MINUS;
  let byte = negative ? (bytes[at++] ?? -1) : first;
  if (byte < ZERO || byte > NINE) return Number.NaN;
  let mantissa = byte - ZERO;
  let digits = mantissa === 0 ? 0 : 1;
  byte = bytes[at] ?? -1;
  // No digit follows a leading nought.
  if (mantissa === 0 && byte >= ZERO && byte <= NINE) return Number.NaN;
  while (byte >= ZERO && byte <= NINE) {
    mantissa = mantissa * 10 + (byte - ZERO);
    digits += 1;
    byte = bytes[++at] ?? -1;
  }
  let places = 0;
  if (byte === POINT) {
    byte = bytes[++at] ?? -1;
    while (byte >= ZERO && byte <= NINE) {
      mantissa = mantissa * 10 + (byte - ZERO);
      if (mantissa > 0) digits += 1;
      places += 1;
      byte = bytes[++at] ?? -1;
    }
    if (places === 0 || places > TIME_DIGITS) return Number.NaN;
  }
  // An exponent, or more digits than are kept: the general reader's business.
  if (digits > mostDigits || byte === 0x65 || byte === 0x45) return Number.NaN;
  const size = places === 0 ? mantissa : mantissa / POWERS_OF_TEN[places]!;
  return negative && size !== 0 ? -size : size;
}

import type { SentRun, SummarySeries } from '../model/series.ts';
import { ByteReader, ByteWriter } from './byte-stream.ts';
import { firstIndexAtOrAfter } from './merge-runs.ts';
import { readNumbers, writeNumbers } from './number-column.ts';
import { readTimes, writeTimes } from './time-column.ts';

export const MINUTE_MS = 60_000;

/** Extremes, sum and count of the UTC minutes that hold samples, of one unit, ascending. `minute` counts from 1970. */
export interface Minutes {
  readonly unit: string;
  readonly minute: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
  readonly sum: Float64Array;
  readonly count: Float64Array;
}

/** Summaries of the minutes of ascending runs, one entry per unit. Sums are kept to twelve significant digits. */
export function minutesOf(runs: readonly SentRun[]): Minutes[] {
  const units = [...new Set(runs.map((run) => run.unit))];
  return units.map((unit) =>
    minutesOfUnit(
      unit,
      runs.filter((run) => run.unit === unit),
    ),
  );
}

function minutesOfUnit(unit: string, runs: readonly SentRun[]): Minutes {
  const minute: number[] = [];
  const min: number[] = [];
  const max: number[] = [];
  const sum: number[] = [];
  const count: number[] = [];
  let last = -1;
  let endMs = Number.NEGATIVE_INFINITY;
  for (const { timeMs, value } of runs) {
    for (let i = 0; i < timeMs.length; i++) {
      const reading = value[i]!;
      if (timeMs[i]! >= endMs) {
        const number = Math.floor(timeMs[i]! / MINUTE_MS);
        endMs = (number + 1) * MINUTE_MS;
        last++;
        minute.push(number);
        min.push(reading);
        max.push(reading);
        sum.push(reading);
        count.push(1);
        continue;
      }
      if (reading < min[last]!) min[last] = reading;
      if (reading > max[last]!) max[last] = reading;
      sum[last]! += reading;
      count[last]!++;
    }
  }
  return {
    unit,
    minute: Float64Array.from(minute),
    min: Float64Array.from(min),
    max: Float64Array.from(max),
    // A sum of short decimals is a short decimal: cutting the float's rounding noise lets it pack as one.
    sum: Float64Array.from(sum, (total) => toTwelveDigits(total)),
    count: Float64Array.from(count),
  };
}

/** The minutes with fromMinute <= minute < toMinute; the columns are views, not copies. */
export function sliceMinutes(minutes: Minutes, fromMinute: number, toMinute: number): Minutes {
  const from = firstIndexAtOrAfter(minutes.minute, fromMinute);
  const to = firstIndexAtOrAfter(minutes.minute, toMinute);
  return mapColumns(minutes, (column) => column.subarray(from, to));
}

/** The minutes that `keep` lets through. */
export function filterMinutes(minutes: Minutes, keep: (minute: number) => boolean): Minutes {
  const kept: number[] = [];
  for (let i = 0; i < minutes.minute.length; i++) if (keep(minutes.minute[i]!)) kept.push(i);
  if (kept.length === minutes.minute.length) return minutes;
  return mapColumns(minutes, (column) => Float64Array.from(kept, (i) => column[i]!));
}

/** Joins summaries of different minutes into one entry per unit, ascending. */
export function joinMinutes(parts: readonly Minutes[]): Minutes[] {
  const units = [...new Set(parts.map((part) => part.unit))];
  return units.map((unit) => {
    const ofUnit = parts.filter((part) => part.unit === unit && part.minute.length > 0);
    ofUnit.sort((a, b) => a.minute[0]! - b.minute[0]!);
    const apart = ofUnit.every((part, i) => i === 0 || ofUnit[i - 1]!.minute.at(-1)! < part.minute[0]!);
    const joined = {
      unit,
      minute: concat(ofUnit, 'minute'),
      min: concat(ofUnit, 'min'),
      max: concat(ofUnit, 'max'),
      sum: concat(ofUnit, 'sum'),
      count: concat(ofUnit, 'count'),
    };
    if (apart) return joined;
    const order = Array.from(joined.minute.keys()).sort((a, b) => joined.minute[a]! - joined.minute[b]!);
    return mapColumns(joined, (column) => Float64Array.from(order, (i) => column[i]!));
  });
}

/** Minutes put together into groups of `size`, each under its first minute; groups are aligned to 1970. */
export function coarsen(minutes: Minutes, size: number): Minutes {
  const length = minutes.minute.length;
  const columns = () => new Float64Array(length);
  const [minute, min, max, sum, count] = [columns(), columns(), columns(), columns(), columns()];
  let last = -1;
  let end = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < length; i++) {
    const at = minutes.minute[i]!;
    if (at >= end) {
      last++;
      minute[last] = Math.floor(at / size) * size;
      end = minute[last]! + size;
      min[last] = minutes.min[i]!;
      max[last] = minutes.max[i]!;
    } else {
      if (minutes.min[i]! < min[last]!) min[last] = minutes.min[i]!;
      if (minutes.max[i]! > max[last]!) max[last] = minutes.max[i]!;
    }
    sum[last] = sum[last]! + minutes.sum[i]!;
    count[last] = count[last]! + minutes.count[i]!;
  }
  return mapColumns({ unit: minutes.unit, minute, min, max, sum, count }, (column) => column.slice(0, last + 1));
}

/** Minutes (or groups of them) as the store's port hands them out. */
export function bucketsOf(minutes: Minutes, stepMs: number): SummarySeries {
  const length = minutes.minute.length;
  const startMs = new Float64Array(length);
  const mean = new Float64Array(length);
  const count = new Uint32Array(length);
  for (let i = 0; i < length; i++) {
    startMs[i] = minutes.minute[i]! * MINUTE_MS;
    mean[i] = minutes.sum[i]! / minutes.count[i]!;
    count[i] = minutes.count[i]!;
  }
  return { stepMs, startMs, min: minutes.min, max: minutes.max, mean, count };
}

const FORMAT = 1;
const MINUTES_PER_DAY = 1440;

/** One UTC day's minutes as bytes; `day` counts from 1970. */
export function encodeDay(day: number, units: readonly Minutes[]): Uint8Array {
  const writer = new ByteWriter(8192);
  writer.byte(FORMAT);
  writer.varint(units.length);
  for (const entry of units) {
    writer.shortText(entry.unit);
    writer.varint(entry.minute.length);
    writeTimes(
      writer,
      entry.minute.map((minute) => minute - day * MINUTES_PER_DAY),
      'deflated',
    );
    writeNumbers(writer, entry.count, 'deflated');
    writeNumbers(writer, entry.min, 'deflated');
    writeFromGuess(writer, entry.max, entry.min);
    writeFromGuess(writer, entry.sum, middleSums(entry.count, entry.min, entry.max));
  }
  return writer.view().slice();
}

export function decodeDay(day: number, bytes: Uint8Array): Minutes[] {
  const reader = new ByteReader(bytes);
  const format = reader.byte();
  if (format !== FORMAT) throw new RangeError(`unknown summary format ${format}`);
  const units: Minutes[] = [];
  for (let left = reader.varint(); left > 0; left--) {
    const unit = reader.shortText();
    const count = reader.varint();
    if (count > MINUTES_PER_DAY) throw new RangeError(`${count} minutes in a day`);
    const minute = readTimes(reader, count, day * MINUTES_PER_DAY);
    const columns = [readNumbers(reader, count), readNumbers(reader, count)] as const;
    const max = readFromGuess(reader, columns[1]);
    const sum = readFromGuess(reader, middleSums(columns[0], columns[1], max));
    units.push({ unit, minute, min: columns[1], max, sum, count: columns[0] });
  }
  return units;
}

/** What the sum of a minute would be if its samples lay evenly between its extremes. */
function middleSums(count: Float64Array, min: Float64Array, max: Float64Array): Float64Array {
  const sums = new Float64Array(count.length);
  for (let i = 0; i < sums.length; i++) sums[i] = count[i]! * (min[i]! / 2 + max[i]! / 2);
  return sums;
}

/** In place of a number of decimals: the column is kept as it is. */
const AS_IS = 255;

/**
 * Appends a column as what it differs from a guess, where that gives the same numbers back once both sides round to the
 * column's eleventh digit or so. A day takes a quarter less, because extremes and sums rise together.
 */
function writeFromGuess(writer: ByteWriter, column: Float64Array, guess: Float64Array): void {
  const largest = column.reduce((most, value) => Math.max(most, Math.abs(value)), 0.01);
  const decimals = Math.max(0, 11 - Math.ceil(Math.log10(largest)));
  const scale = 10 ** decimals;
  const differences = column.map((value, i) => Math.round((value - guess[i]!) * scale) / scale + 0);
  const exact = differences.every((difference, i) => addToGuess(guess[i]!, difference, scale) === column[i]);
  writer.byte(exact ? decimals : AS_IS);
  writeNumbers(writer, exact ? differences : column, 'deflated');
}

function readFromGuess(reader: ByteReader, guess: Float64Array): Float64Array {
  const decimals = reader.byte();
  const column = readNumbers(reader, guess.length);
  if (decimals === AS_IS) return column;
  const scale = 10 ** decimals;
  for (let i = 0; i < column.length; i++) column[i] = addToGuess(guess[i]!, column[i]!, scale);
  return column;
}

function addToGuess(guess: number, difference: number, scale: number): number {
  return Math.round((guess + difference) * scale) / scale + 0;
}

/** Cuts the rounding noise of floats off short decimals. */
function toTwelveDigits(value: number): number {
  return Number(value.toPrecision(12)) + 0;
}

function mapColumns(minutes: Minutes, change: (column: Float64Array) => Float64Array): Minutes {
  return {
    unit: minutes.unit,
    minute: change(minutes.minute),
    min: change(minutes.min),
    max: change(minutes.max),
    sum: change(minutes.sum),
    count: change(minutes.count),
  };
}

function concat(parts: readonly Minutes[], column: Exclude<keyof Minutes, 'unit'>): Float64Array {
  const whole = new Float64Array(parts.reduce((sum, part) => sum + part[column].length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part[column], at);
    at += part[column].length;
  }
  return whole;
}

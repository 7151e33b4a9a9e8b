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
    sum: Float64Array.from(sum, (total) => Number(total.toPrecision(12))),
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

/** Minutes put together into buckets of `stepMs` (a whole number of minutes), as the store's port hands them out. */
export function bucketsOf(minutes: Minutes, stepMs: number): SummarySeries {
  const perBucket = stepMs / MINUTE_MS;
  const length = minutes.minute.length;
  const startMs = new Float64Array(length);
  const min = new Float64Array(length);
  const max = new Float64Array(length);
  const mean = new Float64Array(length);
  const count = new Uint32Array(length);
  let last = -1;
  for (let i = 0; i < length; i++) {
    const start = Math.floor(minutes.minute[i]! / perBucket) * stepMs;
    if (last < 0 || startMs[last] !== start) {
      last++;
      startMs[last] = start;
      min[last] = minutes.min[i]!;
      max[last] = minutes.max[i]!;
    } else {
      min[last] = Math.min(min[last]!, minutes.min[i]!);
      max[last] = Math.max(max[last]!, minutes.max[i]!);
    }
    mean[last]! += minutes.sum[i]!;
    count[last]! += minutes.count[i]!;
  }
  for (let i = 0; i <= last; i++) mean[i] = mean[i]! / count[i]!;
  const end = last + 1;
  return {
    stepMs,
    startMs: startMs.slice(0, end),
    min: min.slice(0, end),
    max: max.slice(0, end),
    mean: mean.slice(0, end),
    count: count.slice(0, end),
  };
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
    for (const column of [entry.min, entry.max, entry.sum, entry.count]) writeNumbers(writer, column, 'deflated');
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
    const [min, max, sum] = [readNumbers(reader, count), readNumbers(reader, count), readNumbers(reader, count)];
    units.push({ unit, minute, min, max, sum, count: readNumbers(reader, count) });
  }
  return units;
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

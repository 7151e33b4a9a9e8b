import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import type { DecayBin } from './decay-bins.ts';
import type { HourPair } from './loss-and-main.ts';
import type { Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import { restRates } from './rest-rates.ts';

/** A rest without demand and the run that refilled the vessel after it. */
export interface IdleCycle extends Rest {
  readonly stopRow: number;
}

interface HourMean {
  readonly log: number;
  readonly error: number;
}

const HOUR_MS = 3_600_000;
const FEWEST_HOURS = 6;
const FEWEST_CYCLES_AN_HOUR = 3;
/** Draws unseen only shorten a rest: of an hour's rests the shortest are left out, and a few of the longest. */
const FASTEST_LEFT_OUT = 0.3;
const SLOWEST_LEFT_OUT = 0.1;
/** Two ends of a rest fall between rows: a length is known to about this part of an interval. */
const LENGTH_ERROR_INTERVALS = 0.41;
/** Lengths in step with the rows err alike. */
const IN_STEP = 0.6;
/** An hour's loss errs by this anyhow: by rates against the usual decay, and by lengths, which the switch moves too. */
const LEAST_RATE_ERROR = 0.002;
const LEAST_LENGTH_ERROR = 0.006;
const LEAST_FILL_ERROR = 0.008;
/** Between rows a minute apart draws pass unseen. */
const DRAWS_SHOWN_MS = 20_000;
const UNSEEN_DRAWS = 0.04;
/** A fill is timed between these parts of its rise: the pump is up to speed, the switch hasn't turned yet. */
const FILL_PARTS = [0.3, 0.8] as const;
const FEWEST_FILL_ROWS = 2;
/** An hour whose values scatter this many times as much as usual holds draws that weren't seen. */
const RESTLESS_HOUR = 2.5;
/** An error told from the steps between hours is itself uncertain by about this factor. */
const STEPS_TO_ERROR = 1.25;
const LEAST_ERROR_SHARE = 0.2;
/** The main's own reading, a mean over a rest, errs by this part of the pressure across the valve. */
const LEAST_DRIVE_ERROR = 0.002;

/**
 * What is lost at rest hour by hour, slow trends taken off, with what shows the main in the same hours: its own pressure
 * where an inlet is logged (the drive of a passing valve), else how fast the pump fills. Undefined with too few hours.
 */
export function hourPairs(
  rows: PumpRows,
  cycles: readonly IdleCycle[],
  bins: readonly DecayBin[],
  inletBar: ((row: number) => number) | undefined,
): readonly HourPair[] | undefined {
  const losses = hourlyLosses(rows, cycles, bins);
  if (!losses) return undefined;
  const mains = (inletBar ? hourlyDrives(rows, cycles, inletBar) : hourlyFills(rows, cycles)) ?? new Map();
  return [...losses].map(([hour, { log, error }]) => ({ loss: log, lossError: error, main: mains.get(hour) }));
}

function hourlyLosses(
  rows: PumpRows,
  cycles: readonly IdleCycle[],
  bins: readonly DecayBin[],
): ReadonlyMap<number, HourMean> | undefined {
  const rates = restRates(rows, cycles, bins);
  const seen = rates.filter((rate) => rate !== undefined);
  const unseen = rows.intervalMs > DRAWS_SHOWN_MS ? UNSEEN_DRAWS : 0;
  if (seen.length >= cycles.length / 2) {
    const byHour = new Map<number, number[]>();
    for (const [k, { toRow }] of cycles.entries()) collect(byHour, rows.timeMs[toRow]!, rates[k]?.log);
    return hourly(byHour, median(seen.map(({ error }) => error)), Math.hypot(LEAST_RATE_ERROR, unseen));
  }
  const byHour = new Map<number, number[]>();
  const lengths = cycles.map(({ fromRow, toRow }) => rows.timeMs[toRow]! - rows.timeMs[fromRow]!);
  for (const [k, { toRow }] of cycles.entries()) collect(byHour, rows.timeMs[toRow]!, -Math.log(lengths[k]!));
  const error = (LENGTH_ERROR_INTERVALS * rows.intervalMs) / median(lengths);
  return hourly(byHour, error, Math.hypot(LEAST_LENGTH_ERROR, IN_STEP * error, unseen));
}

/** Logarithm of the pressure across a valve, from mid-band to the logged main, as a mean over each hour's rests. */
function hourlyDrives(
  rows: PumpRows,
  cycles: readonly IdleCycle[],
  inletBar: (row: number) => number,
): ReadonlyMap<number, HourMean> | undefined {
  const middle = median(cycles.map(({ fromRow, toRow }) => (rows.calmBar[fromRow]! + rows.calmBar[toRow]!) / 2));
  const byHour = new Map<number, number[]>();
  for (const { fromRow, toRow } of cycles) {
    let sum = 0;
    let count = 0;
    for (let row = fromRow + 1; row < toRow; row++) {
      const bar = inletBar(row);
      if (!Number.isFinite(bar)) continue;
      sum += bar;
      count++;
    }
    collect(byHour, rows.timeMs[toRow]!, Math.log(middle - sum / count));
  }
  return hourly(byHour, LEAST_DRIVE_ERROR, LEAST_DRIVE_ERROR);
}

/** How fast the pump fills hour by hour, which shows the main without its being logged: faster from a higher one. */
function hourlyFills(rows: PumpRows, cycles: readonly IdleCycle[]): ReadonlyMap<number, HourMean> | undefined {
  const low = median(cycles.map(({ toRow }) => rows.calmBar[toRow]!));
  const band = median(cycles.map(({ stopRow }) => rows.calmBar[stopRow]!)) - low;
  if (!(band > 0)) return undefined;
  const [from, to] = FILL_PARTS.map((part) => low + part * band) as [number, number];
  const byHour = new Map<number, number[]>();
  const lengths: number[] = [];
  for (const { toRow, stopRow } of cycles) {
    if (stopRow - toRow < FEWEST_FILL_ROWS) continue;
    const lengthMs = passes(rows, toRow, stopRow, to) - passes(rows, toRow, stopRow, from);
    if (!(lengthMs > 0)) continue;
    lengths.push(lengthMs);
    collect(byHour, rows.timeMs[toRow]!, -Math.log(lengthMs));
  }
  if (lengths.length < cycles.length / 2) return undefined;
  const usual = median(lengths);
  const timing = (Math.SQRT2 * rows.noiseBar) / ((FILL_PARTS[1] - FILL_PARTS[0]) * band);
  const between = (0.5 * LENGTH_ERROR_INTERVALS * rows.intervalMs) / usual;
  return hourly(byHour, Math.hypot(timing, between), Math.hypot(LEAST_FILL_ERROR, 0.5 * IN_STEP * between));
}

/** When the rising pressure comes by a level, between the rows by a straight line; NaN where it doesn't. */
function passes({ bar, timeMs }: PumpRows, from: number, to: number, level: number): number {
  for (let row = from + 1; row <= to; row++) {
    if (bar[row]! < level) continue;
    const part = (level - bar[row - 1]!) / (bar[row]! - bar[row - 1]!);
    return timeMs[row - 1]! + Math.max(0, Math.min(1, part)) * (timeMs[row]! - timeMs[row - 1]!);
  }
  return Number.NaN;
}

function collect(byHour: Map<number, number[]>, atMs: number, log: number | undefined): void {
  if (log === undefined || !Number.isFinite(log)) return;
  const hour = Math.floor(atMs / HOUR_MS);
  const before = byHour.get(hour);
  if (before) before.push(log);
  else byHour.set(hour, [log]);
}

/** Trimmed means by hour, a straight trend taken off. */
function hourly(
  byHour: ReadonlyMap<number, readonly number[]>,
  leastError: number,
  systematic: number,
): ReadonlyMap<number, HourMean> | undefined {
  const known = [...byHour].filter(([, logs]) => logs.length >= FEWEST_CYCLES_AN_HOUR);
  if (known.length < FEWEST_HOURS) return undefined;
  const all = known.map(([hour, logs]) => {
    const ascending = [...logs].sort((a, b) => a - b);
    const kept = ascending.slice(
      Math.floor(SLOWEST_LEFT_OUT * logs.length),
      Math.ceil((1 - FASTEST_LEFT_OUT) * logs.length),
    );
    const mean = kept.reduce((sum, log) => sum + log, 0) / kept.length;
    const middle = median(logs);
    const scatter = Math.max(
      leastError,
      MAD_TO_SIGMA * median(logs.map((log) => Math.abs(log - middle))),
      Math.sqrt(kept.reduce((sum, log) => sum + (log - mean) ** 2, 0) / kept.length),
    );
    return { hour, mean, scatter, count: kept.length };
  });
  // An hour of few alike values isn't better known than the others; one of many unlike ones holds draws.
  const usual = median(all.map(({ scatter }) => scatter));
  const means = all.filter(({ scatter }) => scatter <= RESTLESS_HOUR * usual);
  if (means.length < FEWEST_HOURS) return undefined;
  const meanHour = means.reduce((sum, { hour }) => sum + hour, 0) / means.length;
  const meanLog = means.reduce((sum, { mean }) => sum + mean, 0) / means.length;
  const squares = means.reduce((sum, { hour }) => sum + (hour - meanHour) ** 2, 0);
  const trend = means.reduce((sum, { hour, mean }) => sum + (hour - meanHour) * (mean - meanLog), 0) / squares;
  const hours = means.map(({ hour, mean, scatter, count }) => ({
    hour,
    log: mean - meanLog - trend * (hour - meanHour),
    error: Math.hypot(Math.max(scatter, usual) / Math.sqrt(count), systematic),
  }));
  const share = errorShare(hours);
  return new Map(hours.map(({ hour, log, error }) => [hour, { log, error: share * error }]));
}

/** Hours that follow one another differ by no less than they err: where they hardly differ, they err less than thought. */
function errorShare(hours: readonly HourMean[]): number {
  const steps: number[] = [];
  for (let k = 1; k < hours.length; k++) {
    const [before, now] = [hours[k - 1]!, hours[k]!];
    steps.push(Math.abs(now.log - before.log) / Math.hypot(now.error, before.error));
  }
  return Math.max(LEAST_ERROR_SHARE, Math.min(1, STEPS_TO_ERROR * MAD_TO_SIGMA * median(steps)));
}

import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { outflowIndex, type Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** A rest without demand and the run that refilled the vessel after it. */
export interface IdleCycle extends Rest {
  readonly stopRow: number;
}

/** How what is lost at rest answers the main: relative change of the loss over that of what shows the main. */
export interface Slope {
  readonly slope: number;
  readonly standardError: number;
}

const BIN_MS = 30 * 60_000;
const FEWEST_BINS = 8;
/** Cycles of a rate this many times off the median hold a draw or a lost row. */
const OUTLYING_RATIO = 1.6;
/** A shorter fill, in rows, doesn't show its rate. */
const FEWEST_FILL_ROWS = 4;
/** The filling must vary by more than its own scatter, or nothing is learnt about what follows it. */
const LEAST_RELIABILITY = 0.5;

/**
 * Slope of ln(loss) on ln(p − inlet) over half hours: the power of the flow for a passing valve, nought for a leak.
 * Undefined with too few.
 */
export function inletDependence(
  rows: PumpRows,
  cycles: readonly IdleCycle[],
  inletBar: (row: number) => number,
): Slope | undefined {
  const points = cycles.flatMap((cycle) => {
    const loss = lossOf(rows, cycle);
    let sum = 0;
    let count = 0;
    for (let row = cycle.fromRow + 1; row < cycle.toRow; row++) {
      const bar = inletBar(row);
      if (!Number.isFinite(bar)) continue;
      sum += rows.bar[row]! - bar;
      count++;
    }
    const drive = sum / count;
    return loss > 0 && drive > 0 ? [{ atMs: rows.timeMs[cycle.toRow]!, y: Math.log(loss), x: Math.log(drive) }] : [];
  });
  const middle = median(points.map(({ y }) => y));
  const bins = new Map<number, { x: number; y: number; count: number }>();
  for (const { atMs, x, y } of points) {
    if (Math.abs(y - middle) > Math.log(OUTLYING_RATIO)) continue;
    const bin = bins.get(Math.floor(atMs / BIN_MS)) ?? { x: 0, y: 0, count: 0 };
    bins.set(Math.floor(atMs / BIN_MS), { x: bin.x + x, y: bin.y + y, count: bin.count + 1 });
  }
  const means = [...bins.values()].map(({ x, y, count }) => ({ x: x / count, y: y / count }));
  return means.length < FEWEST_BINS ? undefined : lineOf(means);
}

/**
 * A leak to the air doesn't know what the main does; water that passes back through the check valve is driven by
 * (p − main) and grows when the main falls. The main need not be logged: a pump fills faster from a higher one. Both
 * rates are averaged over half hours and their logarithms fitted by a line, errors by its residuals. Undefined where
 * the main hardly moved, or where the rows are too coarse to show it.
 */
export function hourDependence(rows: PumpRows, cycles: readonly IdleCycle[]): Slope | undefined {
  const points = cycles.flatMap((cycle) => pointOf(rows, cycle) ?? []);
  if (points.length < FEWEST_BINS) return undefined;
  const middleLoss = median(points.map(({ loss }) => loss));
  const middleFill = median(points.map(({ fill }) => fill));
  const farOff = Math.log(OUTLYING_RATIO);
  const bins = new Map<number, { loss: number; fill: number; count: number }>();
  for (const { atMs, loss, fill } of points) {
    if (Math.abs(loss - middleLoss) > farOff || Math.abs(fill - middleFill) > farOff) continue;
    const bin = bins.get(Math.floor(atMs / BIN_MS)) ?? { loss: 0, fill: 0, count: 0 };
    bins.set(Math.floor(atMs / BIN_MS), { loss: bin.loss + loss, fill: bin.fill + fill, count: bin.count + 1 });
  }
  const means = [...bins.values()].map(({ loss, fill, count }) => ({ x: fill / count, y: loss / count }));
  if (means.length < FEWEST_BINS) return undefined;
  return lineOf(means);
}

const HOUR_MS = 3_600_000;
const FEWEST_HOURS = 10;
const FEWEST_CYCLES_AN_HOUR = 3;
/** Draws unseen only shorten a rest: of an hour's rests the shortest are left out, and a few of the longest. */
const SHORTEST_LEFT_OUT = 0.3;
const LONGEST_LEFT_OUT = 0.1;
/** Two ends of a rest fall between rows: a length is known to about this part of an interval. */
const LENGTH_ERROR_INTERVALS = 0.41;
/** An hour's loss errs by this anyhow: the switch's levels aren't quite the same at every filling rate. */
const LEAST_HOUR_ERROR = 0.004;
const LEAST_FILL_ERROR = 0.01;
const IN_STEP = 0.6;
const DRAWS_SHOWN_MS = 20_000;
const UNSEEN_DRAWS = 0.04;

/** The loss of one hour: logarithm, and its standard error. */
export interface HourLoss {
  readonly log: number;
  readonly error: number;
}

/**
 * What is lost at rest hour by hour, a slow trend taken off. By the rests' lengths or by their falls too, whichever
 * scatters less: coarse rows don't show the falls, a switch that waits makes the lengths differ. Undefined with too few.
 */
export function hourlyLosses(rows: PumpRows, cycles: readonly IdleCycle[]): readonly HourLoss[] | undefined {
  const byLength = new Map<number, number[]>();
  const byLoss = new Map<number, number[]>();
  const lengths: number[] = [];
  for (const cycle of cycles) {
    const atMs = rows.timeMs[cycle.toRow]!;
    const lengthMs = atMs - rows.timeMs[cycle.fromRow]!;
    if (lengthMs <= 0) continue;
    const hour = Math.floor(atMs / HOUR_MS);
    lengths.push(lengthMs);
    byLength.set(hour, [...(byLength.get(hour) ?? []), -Math.log(lengthMs)]);
    const loss = lossOf(rows, cycle);
    if (loss > 0) byLoss.set(hour, [...(byLoss.get(hour) ?? []), Math.log(loss)]);
  }
  const ofLength = (LENGTH_ERROR_INTERVALS * rows.intervalMs) / median(lengths);
  const falls = cycles.map(({ fromRow, toRow }) => rows.calmBar[fromRow]! - rows.calmBar[toRow]!);
  const ofFall = (Math.SQRT2 * rows.calmNoiseBar) / Math.max(1e-3, median(falls));
  // Lengths in step with the rows err alike, and between rows a minute apart draws pass unseen.
  const unseen = rows.intervalMs > DRAWS_SHOWN_MS ? UNSEEN_DRAWS : 0;
  const systematic = Math.hypot(LEAST_HOUR_ERROR, IN_STEP * ofLength, unseen);
  const first = hourly(byLength, ofLength, systematic);
  const second = hourly(byLoss, Math.hypot(ofLength, ofFall), systematic);
  if (!first) return second;
  return !second || second.length < first.length || scatterOf(first) <= scatterOf(second) ? first : second;
}

/**
 * How long the pump fills hour by hour, which shows the main without its being logged: a pump fills faster from a higher
 * one. Undefined with too few, or where the rows are too coarse for the fills.
 */
export function hourlyFills(rows: PumpRows, cycles: readonly IdleCycle[]): readonly HourLoss[] | undefined {
  const hours = new Map<number, number[]>();
  const lengths: number[] = [];
  for (const { toRow, stopRow } of cycles) {
    const lengthMs = rows.timeMs[stopRow]! - rows.timeMs[toRow]!;
    if (lengthMs <= 0) continue;
    const hour = Math.floor(rows.timeMs[toRow]! / HOUR_MS);
    lengths.push(lengthMs);
    hours.set(hour, [...(hours.get(hour) ?? []), Math.log(lengthMs)]);
  }
  const error = (LENGTH_ERROR_INTERVALS * rows.intervalMs) / median(lengths);
  return hourly(hours, error, Math.hypot(LEAST_FILL_ERROR, IN_STEP * error));
}

function scatterOf(hours: readonly HourLoss[]): number {
  return median(hours.map(({ error }) => error));
}

function hourly(
  hours: ReadonlyMap<number, readonly number[]>,
  leastError: number,
  systematic: number,
): readonly HourLoss[] | undefined {
  const known = [...hours.entries()].filter(([, losses]) => losses.length >= FEWEST_CYCLES_AN_HOUR);
  if (known.length < FEWEST_HOURS) return undefined;
  const means = known.map(([hour, losses]) => {
    const ascending = [...losses].sort((a, b) => a - b);
    const kept = ascending.slice(
      Math.floor(LONGEST_LEFT_OUT * losses.length),
      Math.ceil((1 - SHORTEST_LEFT_OUT) * losses.length),
    );
    const mean = kept.reduce((sum, log) => sum + log, 0) / kept.length;
    const middle = median(losses);
    const scatter = Math.max(
      leastError,
      MAD_TO_SIGMA * median(losses.map((log) => Math.abs(log - middle))),
      Math.sqrt(kept.reduce((sum, log) => sum + (log - mean) ** 2, 0) / kept.length),
    );
    return { hour, mean, scatter, count: kept.length };
  });
  // An hour of few alike lengths isn't better known than the others.
  const usual = median(means.map(({ scatter }) => scatter));
  const meanHour = means.reduce((sum, { hour }) => sum + hour, 0) / means.length;
  const meanLog = means.reduce((sum, { mean }) => sum + mean, 0) / means.length;
  const squares = means.reduce((sum, { hour }) => sum + (hour - meanHour) ** 2, 0);
  const trend = means.reduce((sum, { hour, mean }) => sum + (hour - meanHour) * (mean - meanLog), 0) / squares;
  return means.map(({ hour, mean, scatter, count }) => ({
    log: mean - meanLog - trend * (hour - meanHour),
    error: Math.hypot(Math.max(scatter, usual) / Math.sqrt(count), systematic),
  }));
}

function lineOf(points: readonly { readonly x: number; readonly y: number }[]): Slope | undefined {
  const count = points.length;
  const meanX = points.reduce((sum, { x }) => sum + x, 0) / count;
  const meanY = points.reduce((sum, { y }) => sum + y, 0) / count;
  const xx = points.reduce((sum, { x }) => sum + (x - meanX) ** 2, 0);
  const xy = points.reduce((sum, { x, y }) => sum + (x - meanX) * (y - meanY), 0);
  let steps = 0;
  for (let k = 1; k < count; k++) steps += (points[k]!.x - points[k - 1]!.x) ** 2;
  // Half of the mean square of successive differences is the scatter's variance (von Neumann).
  const reliability = 1 - steps / (2 * (count - 1)) / (xx / (count - 1));
  if (!(reliability > LEAST_RELIABILITY)) return undefined;
  const slope = xy / xx / reliability;
  const residual = points.reduce((sum, { x, y }) => sum + (y - meanY - slope * (x - meanX)) ** 2, 0) / (count - 2);
  return { slope, standardError: Math.sqrt(residual / xx) / reliability };
}

/** Logarithms of the mean outflow of a rest and of the mean inflow of the run after it. */
function pointOf(rows: PumpRows, cycle: IdleCycle): { atMs: number; loss: number; fill: number } | undefined {
  if (cycle.stopRow - cycle.toRow < FEWEST_FILL_ROWS) return undefined;
  const low = outflowIndex(rows.calmBar[cycle.toRow]!);
  const top = outflowIndex(rows.calmBar[cycle.stopRow]!);
  const atMs = rows.timeMs[cycle.toRow]!;
  const loss = lossOf(rows, cycle);
  const fill = (low - top) / (rows.timeMs[cycle.stopRow]! - atMs);
  return loss > 0 && fill > 0 ? { atMs, loss: Math.log(loss), fill: Math.log(fill) } : undefined;
}

/** Mean outflow of a rest, in outflow index a millisecond. */
function lossOf(rows: PumpRows, { fromRow, toRow }: IdleCycle): number {
  const fallen = outflowIndex(rows.calmBar[toRow]!) - outflowIndex(rows.calmBar[fromRow]!);
  return fallen / (rows.timeMs[toRow]! - rows.timeMs[fromRow]!);
}

import { median, quantile } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { outflowIndex, type Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** A rest without demand and the run that refilled the vessel after it. */
export interface IdleCycle extends Rest {
  readonly stopRow: number;
}

/** How what is lost at rest answers the main, which the pump's own filling rate shows. */
export interface HourDependence {
  /** Relative change of the loss over relative change of the filling: nought for a leak, well below for a passing valve. */
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
 * A leak to the air doesn't know what the main does; water that passes back through the check valve is driven by
 * (p − main) and grows when the main falls. The main need not be logged: a pump fills faster from a higher one. Both
 * rates are averaged over half hours and their logarithms fitted by a line, errors by its residuals. Undefined where
 * the main hardly moved, or where the rows are too coarse to show it.
 */
export function hourDependence(rows: PumpRows, cycles: readonly IdleCycle[]): HourDependence | undefined {
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

/**
 * Relative spread (10 to 90 %) of the loss at rest over the hours, its own scatter taken off: hardly any for a leak, a
 * main's daily swing over (p − main) for a passing valve. For rows too coarse to show the filling. Undefined with too few.
 */
export function hourlySpread(rows: PumpRows, cycles: readonly IdleCycle[]): number | undefined {
  const hours = new Map<number, number[]>();
  for (const cycle of cycles) {
    const atMs = rows.timeMs[cycle.toRow]!;
    const lengthMs = atMs - rows.timeMs[cycle.fromRow]!;
    const hour = Math.floor(atMs / HOUR_MS);
    if (lengthMs > 0) hours.set(hour, [...(hours.get(hour) ?? []), Math.log(lengthMs)]);
  }
  const known = [...hours.values()].filter((lengths) => lengths.length >= FEWEST_CYCLES_AN_HOUR);
  if (known.length < FEWEST_HOURS) return undefined;
  const errors = known.map((lengths) => {
    const middle = median(lengths);
    return (1.25 * MAD_TO_SIGMA * median(lengths.map((one) => Math.abs(one - middle)))) / Math.sqrt(lengths.length);
  });
  const middles = known.map((lengths) => median(lengths));
  const spread = quantile(middles, 0.9) - quantile(middles, 0.1);
  // Of normal values the span from 10 to 90 % is 2.56 standard deviations.
  return Math.sqrt(Math.max(0, spread ** 2 - (2.56 * median(errors)) ** 2));
}

function lineOf(points: readonly { readonly x: number; readonly y: number }[]): HourDependence | undefined {
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
  const high = outflowIndex(rows.calmBar[cycle.fromRow]!);
  const low = outflowIndex(rows.calmBar[cycle.toRow]!);
  const top = outflowIndex(rows.calmBar[cycle.stopRow]!);
  const atMs = rows.timeMs[cycle.toRow]!;
  const loss = (low - high) / (atMs - rows.timeMs[cycle.fromRow]!);
  const fill = (low - top) / (rows.timeMs[cycle.stopRow]! - atMs);
  return loss > 0 && fill > 0 ? { atMs, loss: Math.log(loss), fill: Math.log(fill) } : undefined;
}

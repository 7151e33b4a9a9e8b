import { outflowIndex } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** Between slower rows a spin-up of a second or so is lost. */
const SHOWN_MS = 1_500;
/**
 * The rise is drawn back from where the pump is up to speed: first from the earlier of these, so that it isn't drawn far; a
 * pump that takes longer shows itself by crossing late, and is drawn back from the later one. Common practice, no source.
 */
const FULL_RISES_MS = [1_500, 3_500] as const;
/** A crossing in this last part of the time before the full rise says that the spin-up wasn't over. */
const TOO_LATE = 0.7;
/** The rise bends as the pump works its way up its curve: over so long a parabola follows it, from so many rows on. */
const RISE_MS = 8_000;
const FEWEST_RISE_ROWS = 4;
const FEWEST_LEVEL_ROWS = 3;
/** The level before the start is a straight line over so long. */
const BEFORE_MS = 6_000;
/** Readings further off the fitted rise than this part of it belong to a tap that was turned meanwhile. */
const ODD_SHARE = 0.08;

export interface SpinUp {
  readonly seconds: number;
  readonly sdSeconds: number;
}

/**
 * How long the pump takes from its start to its full rise: where the line of the rise, drawn back, leaves the line of the
 * level before it, in 1/P, in which a vessel fills evenly (Boyle). By continuity that is the time for which the pump would
 * have given nothing, had it been at full flow after; a speed that grows evenly shows about two thirds of its own time.
 * Asks for the pump's own channel: by the pressure alone the start is where it lifts, and what came before shows in nothing.
 * The switching falls anywhere between two rows of the channel. Undefined where the rows are too coarse or too few.
 */
export function spinUpOf(rows: PumpRows, run: PumpRun, fromRow: number): SpinUp | undefined {
  if (rows.intervalMs > SHOWN_MS || run.stopRow === undefined) return undefined;
  for (const fullRiseMs of FULL_RISES_MS) {
    const crossing = crossingOf(rows, run, fromRow, fullRiseMs);
    if (!crossing) return undefined;
    if (crossing.seconds > (TOO_LATE * fullRiseMs) / 1000) continue;
    const halfRowS = rows.intervalMs / 2000;
    const switchedS = (run.startMs - rows.timeMs[run.startRow]!) / 1000 - halfRowS;
    const lagS = crossing.seconds - switchedS;
    if (lagS < -2 * halfRowS) return undefined;
    return { seconds: Math.max(0, lagS), sdSeconds: Math.hypot((2 * halfRowS) / Math.sqrt(12), crossing.sdSeconds) };
  }
  return undefined;
}

/** Where the rise from `fullRiseMs` on, drawn back, leaves the level before, in seconds after the start's row. */
function crossingOf(rows: PumpRows, run: PumpRun, fromRow: number, fullRiseMs: number): SpinUp | undefined {
  const { timeMs } = rows;
  const originMs = timeMs[run.startRow]!;
  const before: number[] = [];
  for (let row = Math.max(fromRow, 0); row <= run.startRow; row++) {
    if (originMs - timeMs[row]! <= BEFORE_MS) before.push(row);
  }
  const rise: number[] = [];
  for (let row = run.startRow + 1; row < run.stopRow!; row++) {
    const sinceMs = timeMs[row]! - originMs;
    if (sinceMs > fullRiseMs + RISE_MS) break;
    if (sinceMs >= fullRiseMs) rise.push(row);
  }
  if (before.length < FEWEST_LEVEL_ROWS || rise.length < FEWEST_RISE_ROWS) return undefined;
  const seconds = (row: number): number => (timeMs[row]! - originMs) / 1000;
  const index = (row: number): number => -outflowIndex(rows.bar[row]!);
  const level = leastSquares(before.map(seconds), before.map(index), 1);
  const full = leastSquares(rise.map(seconds), rise.map(index), 2);
  if (!level || !full) return undefined;
  const slope = full.slopeAt(fullRiseMs / 1000) - level.slopeAt(0);
  if (!(slope > 0)) return undefined;
  const risen = full.at(seconds(rise.at(-1)!)) - level.at(0);
  if (rise.some((row) => Math.abs(index(row) - full.at(seconds(row))) > ODD_SHARE * risen)) return undefined;

  let crossing = fullRiseMs / 1000;
  // The rise bends but little: a few steps of Newton's find where it leaves the level.
  for (let step = 0; step < 8; step++) {
    const steep = full.slopeAt(crossing) - level.slopeAt(crossing);
    if (!(steep > 0)) return undefined;
    crossing -= (full.at(crossing) - level.at(crossing)) / steep;
  }
  const noise = rows.noiseBar * outflowIndex(rows.bar[run.startRow]!) ** 2;
  const sdSeconds = (noise * Math.hypot(full.errorAt(crossing), level.errorAt(crossing))) / slope;
  return { seconds: crossing, sdSeconds };
}

interface Fit {
  at(x: number): number;
  slopeAt(x: number): number;
  /** Standard error of the fitted value, in standard deviations of one reading. */
  errorAt(x: number): number;
}

/** Polynomial of least squares; undefined where the points don't carry it. */
function leastSquares(x: readonly number[], y: readonly number[], degree: 1 | 2): Fit | undefined {
  const size = degree + 1;
  const powers = (at: number): number[] => Array.from({ length: size }, (_, k) => at ** k);
  const normal = Array.from({ length: size }, () => new Float64Array(2 * size + 1));
  for (const [i, at] of x.entries()) {
    const row = powers(at);
    for (let a = 0; a < size; a++) {
      for (let b = 0; b < size; b++) normal[a]![b]! += row[a]! * row[b]!;
      normal[a]![2 * size]! += row[a]! * y[i]!;
    }
  }
  // Gauss–Jordan on [XᵀX | 1 | Xᵀy].
  for (let a = 0; a < size; a++) normal[a]![size + a] = 1;
  for (let a = 0; a < size; a++) {
    const pivot = normal[a]![a]!;
    if (!(Math.abs(pivot) > 1e-9)) return undefined;
    for (let column = 0; column <= 2 * size; column++) normal[a]![column]! /= pivot;
    for (let b = 0; b < size; b++) {
      const factor = normal[b]![a]!;
      if (b === a || factor === 0) continue;
      for (let column = 0; column <= 2 * size; column++) normal[b]![column]! -= factor * normal[a]![column]!;
    }
  }
  const terms = normal.map((row) => row[2 * size]!);
  return {
    at: (at) => powers(at).reduce((sum, power, k) => sum + power * terms[k]!, 0),
    slopeAt: (at) => terms.reduce((sum, term, k) => sum + (k === 0 ? 0 : k * term * at ** (k - 1)), 0),
    errorAt: (at) => {
      const row = powers(at);
      let variance = 0;
      for (let a = 0; a < size; a++)
        for (let b = 0; b < size; b++) variance += row[a]! * normal[a]![size + b]! * row[b]!;
      return Math.sqrt(Math.max(0, variance));
    },
  };
}

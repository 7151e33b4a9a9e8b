import { STANDARD_ATMOSPHERE_BAR } from '../../../collector/model/units.ts';
import { median } from '../statistics/quantile.ts';
import { weightedMedian } from './level-statistics.ts';
import type { PumpRows } from './pump-rows.ts';

/**
 * Water that has left a pressure vessel, up to a factor: by Boyle's law the gas fills P0·V/P, so 1/P (absolute) rises
 * in step with the litres gone. Its slope is a flow, at whatever pressure it is taken.
 */
export function outflowIndex(bar: number): number {
  return 1 / Math.max(0.05, bar + STANDARD_ATMOSPHERE_BAR);
}

/** Rows [fromRow, toRow] with the pump at rest, both included. */
export interface Rest {
  readonly fromRow: number;
  readonly toRow: number;
}

/** What flows away steadily around a time, with nobody drawing, in outflow index a millisecond. */
export type SteadyOutflow = (rest: Rest) => number;

const GRID_MS = 15 * 60_000;
/** Steady flows are looked for over this long before and after: longer than a household's busy spell at one go. */
const NEAR_GRID_CELLS = 8;
/** A rest this long shows its own steady outflow: a household seldom draws without a pause for that long. */
const OWN_REST_MS = 20 * 60_000;
const PIECES = 8;
/** No piece spans more, or a long rest would leave the quarters of an hour within it without a word. */
const LONGEST_PIECE_MS = 10 * 60_000;

/**
 * Draws come and go, a leak or a passing valve goes on: the steady outflow is the median over resting time, taken for
 * the two hours before and the two hours after, whichever is larger, so that a leak that has just begun or ended is seen.
 */
export function steadyOutflow(rows: PumpRows, rests: readonly Rest[]): SteadyOutflow {
  const firstMs = rows.timeMs[0] ?? 0;
  const cells = new Map<number, { slopes: number[]; weights: number[] }>();
  for (const rest of rests) {
    for (const piece of piecesOf(rows, rest)) {
      const cell = Math.floor((piece.atMs - firstMs) / GRID_MS);
      const entry = cells.get(cell) ?? { slopes: [], weights: [] };
      entry.slopes.push(piece.slope);
      entry.weights.push(piece.lengthMs);
      cells.set(cell, entry);
    }
  }
  const known = new Map<string, number>();
  const medianOver = (from: number, to: number): number => {
    const key = `${from}:${to}`;
    const before = known.get(key);
    if (before !== undefined) return before;
    const slopes: number[] = [];
    const weights: number[] = [];
    for (let cell = from; cell <= to; cell++) {
      const entry = cells.get(cell);
      if (!entry) continue;
      for (const slope of entry.slopes) slopes.push(slope);
      for (const weight of entry.weights) weights.push(weight);
    }
    const found = slopes.length === 0 ? 0 : weightedMedian(slopes, weights);
    known.set(key, found);
    return found;
  };
  return (rest) => {
    const fromMs = rows.timeMs[rest.fromRow]!;
    const toMs = rows.timeMs[rest.toRow]!;
    if (toMs - fromMs >= OWN_REST_MS) {
      const own = piecesOf(rows, rest).map((piece) => piece.slope);
      if (own.length >= PIECES / 2) return Math.max(0, median(own));
    }
    const cell = Math.floor(((fromMs + toMs) / 2 - firstMs) / GRID_MS);
    return Math.max(0, medianOver(cell - NEAR_GRID_CELLS, cell), medianOver(cell, cell + NEAR_GRID_CELLS));
  };
}

function piecesOf(rows: PumpRows, rest: Rest): { atMs: number; slope: number; lengthMs: number }[] {
  const count = rest.toRow - rest.fromRow;
  const pieces: { atMs: number; slope: number; lengthMs: number }[] = [];
  const byTime = Math.max(1, Math.floor(LONGEST_PIECE_MS / rows.intervalMs));
  const step = Math.max(1, Math.min(byTime, Math.floor(count / PIECES)));
  for (let from = rest.fromRow; from + step <= rest.toRow; from += step) {
    const to = from + step;
    const lengthMs = rows.timeMs[to]! - rows.timeMs[from]!;
    if (lengthMs <= 0) continue;
    const slope = (outflowIndex(levelAround(rows, to, rest)) - outflowIndex(levelAround(rows, from, rest))) / lengthMs;
    pieces.push({ atMs: (rows.timeMs[from]! + rows.timeMs[to]!) / 2, slope, lengthMs });
  }
  return pieces;
}

/** Mean of up to five readings about a row, within the rest. */
export function levelAround(rows: PumpRows, row: number, rest: Rest): number {
  const half = Math.min(2, Math.floor((rest.toRow - rest.fromRow) / 8));
  const from = Math.max(rest.fromRow, row - half);
  const to = Math.min(rest.toRow, row + half);
  let sum = 0;
  for (let i = from; i <= to; i++) sum += rows.bar[i]!;
  return sum / (to - from + 1);
}

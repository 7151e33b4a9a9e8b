import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { levelAround, outflowIndex, type Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** Neighbours on either side that a rest is compared with. */
const NEIGHBOURS = 10;
const FEWEST_NEIGHBOURS = 5;
/** Neighbours further away may have had another main or another leak. */
const NEAR_MS = 4 * 3_600_000;
/** Scatters beyond which a rest isn't like the others, and the least share that counts. */
const SCATTERS = 4;
const LEAST_LOSS_SHARE = 0.02;
const LEAST_FILL_SHARE = 0.1;
/** The fill is judged between these times after a start: after the spin-up, before a later draw is likely. */
const FILL_FROM_MS = 2_000;
const FILL_TO_MS = 6_000;

/**
 * Of the rests that look idle, those that aren't like their neighbours: a trickle too small to show as a draw empties
 * the vessel a little faster on the whole, and a tap that opens in the last seconds slows the fill that follows. Cycles
 * without demand repeat closely, so each is compared with the median of those around it and their scatter on the
 * idle side.
 */
export function unlikeRests(rows: PumpRows, rests: readonly Rest[], idle: readonly boolean[]): boolean[] {
  const candidates = rests.flatMap((_, k) => (idle[k] ? [k] : []));
  const losses = candidates.map((k) => meanLoss(rows, rests[k]!));
  // Slower is the suspect side for fills, faster for losses: turned round, one comparison serves both.
  const fills = candidates.map((k) => -fillRate(rows, rests[k]!.toRow));
  const unlike = rests.map(() => false);
  candidates.forEach((k, place) => {
    const atMs = rows.timeMs[rests[k]!.toRow]!;
    const near: number[] = [];
    for (
      let other = Math.max(0, place - NEIGHBOURS);
      other <= Math.min(candidates.length - 1, place + NEIGHBOURS);
      other++
    ) {
      if (Math.abs(rows.timeMs[rests[candidates[other]!]!.toRow]! - atMs) <= NEAR_MS) near.push(other);
    }
    unlike[k] =
      standsOut(
        losses[place]!,
        near.map((other) => losses[other]!),
        LEAST_LOSS_SHARE,
      ) ||
      standsOut(
        fills[place]!,
        near.map((other) => fills[other]!),
        LEAST_FILL_SHARE,
      );
  });
  return unlike;
}

/** Whether a value lies above the others' median by more than the scatter of those below it explains. */
function standsOut(value: number, others: readonly number[], leastShare: number): boolean {
  const known = others.filter((other) => Number.isFinite(other));
  if (!Number.isFinite(value) || known.length < FEWEST_NEIGHBOURS) return false;
  const middle = median(known);
  const scatter = MAD_TO_SIGMA * median(known.filter((other) => other <= middle).map((other) => middle - other));
  return value - middle > Math.max(SCATTERS * scatter, leastShare * Math.abs(middle));
}

/** Mean outflow of a whole rest, in outflow index a millisecond. */
function meanLoss(rows: PumpRows, rest: Rest): number {
  const lengthMs = rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!;
  if (rest.toRow - rest.fromRow < 8) return Number.NaN;
  const first = Math.max(rows.calmBar[rest.fromRow]!, rows.calmBar[rest.fromRow + 1]!);
  return (outflowIndex(levelAround(rows, rest.toRow, rest)) - outflowIndex(first)) / lengthMs;
}

/** Inflow while the pump fills the vessel, NaN where it is too quick for the rows to show. */
function fillRate(rows: PumpRows, startRow: number): number {
  const startMs = rows.timeMs[startRow]!;
  let from = startRow;
  while (from < rows.timeMs.length && rows.timeMs[from]! - startMs < FILL_FROM_MS) from++;
  let to = from;
  while (to + 1 < rows.timeMs.length && rows.timeMs[to + 1]! - startMs <= FILL_TO_MS) to++;
  if (to - from < 3 || rows.timeMs[to]! - startMs > FILL_TO_MS) return Number.NaN;
  const rise = rows.bar[to]! - rows.bar[from]!;
  const lengthMs = rows.timeMs[to]! - rows.timeMs[from]!;
  return rise < 8 * rows.noiseBar
    ? Number.NaN
    : (outflowIndex(rows.bar[from]!) - outflowIndex(rows.bar[to]!)) / lengthMs;
}

import type { SupplyCurve } from './supply-curve.ts';

/** Flow below this is the meter's nought or a drip: common practice, no source. */
export const LEAST_FLOW_LPM = 0.25;
/** A smaller loss is a float valve's last trickle: it ends no pause between draws. */
const LEAST_LOSS_BAR = 0.01;
/** Flow is steady where neighbouring rows differ by no more than this share. */
const STEADY_SHARE = 0.1;

/** A tap is open for at least this share of an interval that shows its flow. */
const LEAST_FLOWING_SHARE = 0.05;
/** What a hand takes to open or shut a tap: common practice, no source. */
const LONGEST_TURN_S = 2.5;

/** Rows [from, to). */
export interface RowBlock {
  readonly from: number;
  readonly to: number;
}

export interface RowRange {
  readonly fromRow: number;
  readonly toRow: number;
}

/**
 * Draws where a meter for the household's own flow decides: rows with flow, pauses shorter than `joinPauseS` joined.
 * The value at a row is the mean over the interval that ends there, so a draw starts one row before its first.
 */
export function flowDraws(
  timeMs: Float64Array,
  flowLpm: Float64Array,
  from: number,
  to: number,
  joinPauseS: number,
  leastFlowLpm: number,
): RowRange[] {
  const draws: { fromRow: number; toRow: number }[] = [];
  for (let i = from; i < to; i++) {
    if (!(flowLpm[i]! > leastFlowLpm)) continue;
    const last = draws.at(-1);
    if (last && timeMs[i]! - timeMs[last.toRow - 1]! <= joinPauseS * 1000 + 500) last.toRow = i + 1;
    else draws.push({ fromRow: i, toRow: i + 1 });
  }
  return draws;
}

/** The flow from which a draw shows in the pressure. */
export function leastDrawnLpm(curve: SupplyCurve | undefined): number {
  return curve ? Math.max(LEAST_FLOW_LPM, (LEAST_LOSS_BAR / curve.k) ** (1 / curve.n)) : LEAST_FLOW_LPM;
}

/** True where flow and its neighbours agree, so that the instant's loss belongs to the interval's mean. */
export function isSteady(flowLpm: Float64Array, i: number, from: number, to: number): boolean {
  const here = flowLpm[i]!;
  const tolerance = Math.max(LEAST_FLOW_LPM, STEADY_SHARE * here);
  return (
    (i === from || Math.abs(flowLpm[i - 1]! - here) <= tolerance) &&
    (i + 1 >= to || Math.abs(flowLpm[i + 1]! - here) <= tolerance)
  );
}

/**
 * The share of a draw's first and last interval in which water flowed, as the intervals inside tell: their values are means
 * over a time in which the tap was shut for a while. Draws of one or two rows don't tell, and at fast rates the hand's turn
 * makes the difference.
 */
export function flowingShares(
  flowLpm: Float64Array,
  { fromRow, toRow }: RowRange,
  intervalS: number,
): { readonly first: number; readonly last: number } {
  if (toRow - fromRow < 3 || intervalS <= LONGEST_TURN_S) return { first: 1, last: 1 };
  const share = (edge: number, inside: number) => Math.min(1, Math.max(LEAST_FLOWING_SHARE, edge / inside));
  return {
    first: share(flowLpm[fromRow]!, flowLpm[fromRow + 1]!),
    last: share(flowLpm[toRow - 1]!, flowLpm[toRow - 2]!),
  };
}

/** Rows about a draw, between the draws before and after it, in which the household doesn't draw. */
export function idleAbout(draws: readonly RowRange[], d: number, block: RowBlock): RowBlock {
  return {
    from: d > 0 ? draws[d - 1]!.toRow + 1 : block.from,
    to: d + 1 < draws.length ? draws[d + 1]!.fromRow - 1 : block.to,
  };
}

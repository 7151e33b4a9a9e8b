import type { SupplyCurve } from './supply-curve.ts';

/** Flow below this is the meter's nought or a drip: common practice, no source. */
export const LEAST_FLOW_LPM = 0.25;
/** A smaller loss is a float valve's last trickle: it ends no pause between draws. */
const LEAST_LOSS_BAR = 0.01;
/** Flow is steady where neighbouring rows differ by no more than this share. */
const STEADY_SHARE = 0.1;

/** A tap is open for at least this share of an interval that shows its flow. */
const LEAST_FLOWING_SHARE = 0.05;
/** The longest that a hand takes to open or shut a tap: common practice, no source. */
export const LONGEST_TURN_S = 2.5;
/** Half of the time a hand usually takes for it, from a lever's blink to a spindle's second: common practice, no source. */
const HALF_TURN_S = 0.25;

/** A valve that shuts has shut so long after its flow last showed in the pressure; what still trickles then is none of the draw. */
const LONGEST_SHUTTING_S = 30;
/** Flow still rises or dies away where the row at an edge's inner side has less than this share of the one further in. */
const SLOPING_SHARE = 0.92;

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
 * The rows over which the meter shows a draw: from where it shows in the pressure to where the valve has shut. The pause
 * that parts it from the draws before and after stays one, and a trickle that lasts on is none of it.
 * @param previousToRow row after the extent of the draw before it, or the first that is known
 * @param nextFromRow first row of the draw after it, or the end of what is known
 */
export function meteredExtent(
  timeMs: Float64Array,
  flowLpm: Float64Array,
  { fromRow, toRow }: RowRange,
  { previousToRow, nextFromRow }: { readonly previousToRow: number; readonly nextFromRow: number },
  joinPauseS: number,
): RowRange {
  // A row's value is the mean since the row before it, so a pause lies between three rows at least.
  const isPause = (lastRow: number, firstRow: number) =>
    firstRow - lastRow >= 2 && timeMs[firstRow - 1]! - timeMs[lastRow]! >= joinPauseS * 1000;
  let first = fromRow;
  while (
    first > previousToRow &&
    flowLpm[first - 1]! > LEAST_FLOW_LPM &&
    timeMs[fromRow]! - timeMs[first - 1]! <= LONGEST_TURN_S * 1000 &&
    (previousToRow === 0 || isPause(previousToRow - 1, first - 1))
  )
    first--;
  let end = toRow;
  while (
    end < nextFromRow &&
    flowLpm[end]! > LEAST_FLOW_LPM &&
    (nextFromRow >= flowLpm.length || isPause(end, nextFromRow))
  )
    if (timeMs[end++]! - timeMs[toRow - 1]! > LONGEST_SHUTTING_S * 1000) return { fromRow: first, toRow };
  return { fromRow: first, toRow: end };
}

/**
 * The share of a draw's first and last interval in which water flowed, as the intervals inside tell: their values are means
 * over a time in which the tap was shut for a while. Where the flow still rises or dies away further inside, it went in a
 * straight line through the interval at the edge: with x the share, edge : inside = x²/2 : (x + 1/2). Else a hand turned it,
 * and half of its turn is missing from the mean. Draws of one or two rows don't tell.
 */
export function flowingShares(
  flowLpm: Float64Array,
  { fromRow, toRow }: RowRange,
  intervalS: number,
): { readonly first: number; readonly last: number } {
  if (toRow - fromRow < 3) return { first: 1, last: 1 };
  const turn = HALF_TURN_S / intervalS;
  const share = (edgeRow: number, inward: 1 | -1) => {
    const inside = flowLpm[edgeRow + inward]!;
    const ratio = flowLpm[edgeRow]! / inside;
    const further = edgeRow + 2 * inward;
    const sloping = further >= fromRow && further < toRow && inside < SLOPING_SHARE * flowLpm[further]!;
    return Math.min(1, Math.max(LEAST_FLOWING_SHARE, sloping ? ratio + Math.sqrt(ratio ** 2 + ratio) : ratio + turn));
  };
  return { first: share(fromRow, 1), last: share(toRow - 1, -1) };
}

/** Rows about a draw, between the draws before and after it, in which the household doesn't draw. */
export function idleAbout(draws: readonly RowRange[], d: number, block: RowBlock): RowBlock {
  return {
    from: d > 0 ? draws[d - 1]!.toRow + 1 : block.from,
    to: d + 1 < draws.length ? draws[d + 1]!.fromRow - 1 : block.to,
  };
}

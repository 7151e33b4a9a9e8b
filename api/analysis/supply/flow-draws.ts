import { median } from '../statistics/quantile.ts';

/** Flow below this is the meter's nought or a drip: common practice, no source. */
export const LEAST_FLOW_LPM = 0.25;
/** A smaller loss is a float valve's last trickle: it ends no pause between draws. */
const LEAST_LOSS_BAR = 0.01;
/** Exponents tried for the loss k·Qⁿ: between laminar and fully rough, Hazen–Williams' 1.852 among them. */
const EXPONENTS = [1, 1.2, 1.4, 1.55, 1.65, 1.75, 1.852, 1.95, 2];
const FEWEST_POINTS = 4;
/** Idle and drawing rows averaged on the two sides of an opening or closing. */
const SIDE_ROWS = 6;
/** Flow is steady where neighbouring rows differ by no more than this share. */
const STEADY_SHARE = 0.1;

/** Loss between the street and the logger while the household draws: lossBar = k · flowLpm ** n. */
export interface SupplyCurve {
  readonly k: number;
  readonly n: number;
  readonly points: number;
  readonly sdBar: number;
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
 * Fits k and n to openings and closings, where the idle level a few rows away tells the loss. Medians, so that a
 * neighbour's draw at the same moment doesn't decide. Undefined where too few edges can tell.
 */
export function fitSupplyCurve(
  pressureBar: Float64Array,
  flowLpm: Float64Array,
  blocks: readonly { from: number; to: number }[],
  drawsOfBlock: readonly (readonly RowRange[])[],
): SupplyCurve | undefined {
  const flows: number[] = [];
  const losses: number[] = [];
  blocks.forEach((block, b) => {
    const draws = drawsOfBlock[b]!;
    draws.forEach((draw, d) => {
      const idleFrom = d > 0 ? draws[d - 1]!.toRow + 1 : block.from;
      const idleTo = d + 1 < draws.length ? draws[d + 1]!.fromRow - 1 : block.to;
      const steady: number[] = [];
      for (let i = draw.fromRow + 1; i < draw.toRow - 1; i++) {
        if (isSteady(flowLpm, i, draw.fromRow, draw.toRow)) steady.push(i);
      }
      const before = meanOf(pressureBar, Math.max(idleFrom, draw.fromRow - 1 - SIDE_ROWS), draw.fromRow - 1);
      const after = meanOf(pressureBar, draw.toRow + 1, Math.min(idleTo, draw.toRow + 1 + SIDE_ROWS));
      addPoint(steady.slice(0, SIDE_ROWS), before, draw.fromRow);
      addPoint(steady.slice(-SIDE_ROWS), after, draw.toRow);
    });
  });
  function addPoint(rows: readonly number[], idleBar: number, nearRow: number): void {
    if (rows.length === 0 || !Number.isFinite(idleBar) || Math.abs(rows[0]! - nearRow) > 4 * SIDE_ROWS) return;
    flows.push(rows.reduce((sum, i) => sum + flowLpm[i]!, 0) / rows.length);
    losses.push(idleBar - rows.reduce((sum, i) => sum + pressureBar[i]!, 0) / rows.length);
  }
  if (flows.length < FEWEST_POINTS) return undefined;
  let best: SupplyCurve | undefined;
  for (const n of EXPONENTS) {
    // Weighted to large flows, whose loss stands out of the noise.
    const strong = flows.map((q, i) => ({ q, loss: losses[i]! })).sort((a, b) => b.q - a.q);
    const k = median(strong.slice(0, Math.ceil(strong.length / 2)).map(({ q, loss }) => loss / q ** n));
    const sdBar = 1.4826 * median(flows.map((q, i) => Math.abs(losses[i]! - k * q ** n)));
    if (k > 0 && (!best || sdBar < best.sdBar)) best = { k, n, points: flows.length, sdBar };
  }
  return best;
}

function meanOf(values: Float64Array, a: number, b: number): number {
  let sum = 0;
  for (let i = a; i < b; i++) sum += values[i]!;
  return b > a ? sum / (b - a) : Number.NaN;
}

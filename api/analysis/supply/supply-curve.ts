import { bootstrapValues, percentileInterval } from '../statistics/bootstrap.ts';
import { type ExponentPrior, fitPower } from '../statistics/power-fit.ts';
import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { idleAbout, isSteady, type RowBlock, type RowRange } from './flow-draws.ts';
import { USUAL_SHARED_SHARE } from './shared-pipe.ts';

/** Idle and drawing rows averaged on the two sides of an opening or closing. */
export const SIDE_ROWS = 6;
/** Steady rows further than this from the edge don't tell its loss: the street moves meanwhile. */
export const NEAR_EDGE_ROWS = 4 * SIDE_ROWS;
const FEWEST_POINTS = 4;
/** A loss is laminar (1) to fully rough (2); Hazen–Williams' 1.852 between. What an exponent is before a draw was seen. */
const EXPONENT_PRIOR: ExponentPrior = { mean: 1.8, sd: 0.3 };
const STARTING_EXPONENTS = [1, 1.2, 1.4, 1.55, 1.65, 1.75, 1.852, 1.95, 2];
/** Residuals beyond this many deviations count for nothing (Tukey's biweight, 95 % efficiency at normal errors). */
const BIWEIGHT_AT = 4.685;
const REWEIGHTINGS = 12;
/** Share of a loss that a power law and a meter are off by at the least: common practice, no source. */
const LEAST_MISFIT_SHARE = 0.004;

/** Loss between the street and the logger while the household draws: lossBar = k · flowLpm ** n. */
export interface SupplyCurve {
  readonly k: number;
  readonly n: number;
  /** 95 % percentile intervals, bootstrapped over draws; undefined where too few draws tell. */
  readonly kInterval: readonly [number, number] | undefined;
  readonly nInterval: readonly [number, number] | undefined;
  readonly draws: number;
  readonly points: number;
  /** Robust deviation of a measured loss from the curve. */
  readonly sdBar: number;
  /** The part of it that goes with the loss, as a share: what a draw's own edges may differ by from the curve. */
  readonly misfitShare: number;
  /** Which part of the loss lies in a pipe that a neighbour draws through as well, as his draws tell. */
  readonly sharedShare: number;
}

/** A loss that a draw's opening or closing shows. */
export interface LossPoint {
  readonly draw: number;
  readonly flowLpm: number;
  readonly lossBar: number;
}

/**
 * Losses at openings and closings, where the idle level a few rows away tells them.
 * @param drawsOfBlock rows with flow, by block
 */
export function lossPoints(
  pressureBar: Float64Array,
  flowLpm: Float64Array,
  blocks: readonly RowBlock[],
  drawsOfBlock: readonly (readonly RowRange[])[],
): LossPoint[] {
  const points: LossPoint[] = [];
  let counted = 0;
  blocks.forEach((block, b) => {
    const draws = drawsOfBlock[b]!;
    draws.forEach((draw, d) => {
      const { opening, closing } = drawSides(flowLpm, draw, idleAbout(draws, d, block));
      for (const side of [opening, closing]) {
        if (side.steady.length === 0 || side.idleTo <= side.idleFrom) continue;
        points.push({
          draw: counted,
          flowLpm: meanAt(flowLpm, side.steady),
          lossBar: meanOf(pressureBar, side.idleFrom, side.idleTo) - meanAt(pressureBar, side.steady),
        });
      }
      counted++;
    });
  });
  return points;
}

/** Idle rows [idleFrom, idleTo) beside an opening or closing, and the steady rows of the draw nearest to it. */
export interface DrawSide {
  readonly idleFrom: number;
  readonly idleTo: number;
  readonly steady: readonly number[];
}

/** What tells the loss at the two ends of a draw; the rows right at its edges, where a value is caught half way, left out. */
export function drawSides(
  flowLpm: Float64Array,
  draw: RowRange,
  idle: RowBlock,
): { readonly opening: DrawSide; readonly closing: DrawSide } {
  const steadyFrom = (first: number, step: 1 | -1): number[] => {
    const rows: number[] = [];
    for (let i = first, far = 0; far < NEAR_EDGE_ROWS && rows.length < SIDE_ROWS; i += step, far++) {
      if (i <= draw.fromRow || i >= draw.toRow - 1) break;
      if (isSteady(flowLpm, i, draw.fromRow, draw.toRow)) rows.push(i);
    }
    return rows;
  };
  return {
    opening: {
      idleFrom: Math.max(idle.from, draw.fromRow - 1 - SIDE_ROWS),
      idleTo: draw.fromRow - 1,
      steady: steadyFrom(draw.fromRow + 1, 1),
    },
    closing: {
      idleFrom: draw.toRow + 1,
      idleTo: Math.min(idle.to, draw.toRow + 1 + SIDE_ROWS),
      steady: steadyFrom(draw.toRow - 2, -1),
    },
  };
}

/**
 * k and n of the service pipe with their intervals: least squares with Tukey's biweight, so that a neighbour's draw at the
 * same moment doesn't decide, started from medians over a few exponents; intervals by drawing whole draws anew. Undefined
 * where too few edges can tell.
 * @param noiseBar of a single reading
 */
export function fitSupplyCurve(points: readonly LossPoint[], noiseBar: number): SupplyCurve | undefined {
  if (points.length < FEWEST_POINTS) return undefined;
  const flows = Float64Array.from(points, (point) => point.flowLpm);
  const losses = Float64Array.from(points, (point) => point.lossBar);
  const rough = roughFit(flows, losses);
  if (!rough) return undefined;
  const edgeSdBar = noiseBar * Math.sqrt(2 / SIDE_ROWS);
  let fit: { k: number; n: number } = rough;
  const weight = new Float64Array(flows.length);
  const steepness = new Float64Array(flows.length);
  let scale = 1;
  let misfitShare = 0.05;
  for (let round = 0; round < REWEIGHTINGS; round++) {
    const computed = Float64Array.from(flows, (q) => fit.k * q ** fit.n);
    misfitShare = shareOfMisfit(computed, losses, edgeSdBar);
    const sds = Float64Array.from(computed, (loss) => Math.hypot(edgeSdBar, misfitShare * loss, 1e-4));
    scale = Math.max(0.3, MAD_TO_SIGMA * median(sds.map((sd, i) => Math.abs(losses[i]! - computed[i]!) / sd)));
    for (let i = 0; i < weight.length; i++) {
      const off = (losses[i]! - computed[i]!) / (sds[i]! * scale * BIWEIGHT_AT);
      const within = off * off < 1 ? (1 - off * off) / (sds[i]! * scale) ** 2 : 0;
      weight[i] = within * (1 - off * off);
      steepness[i] = within * (1 - 5 * off * off);
    }
    const next = fitPower(flows, losses, fit, weight, EXPONENT_PRIOR);
    if (!(next.k > 0) || !Number.isFinite(next.n)) break;
    const still = Math.abs(next.n - fit.n) < 1e-6;
    fit = next;
    if (still) break;
  }
  const sdBar = MAD_TO_SIGMA * median(flows.map((q, i) => Math.abs(losses[i]! - fit.k * q ** fit.n)));
  return {
    k: fit.k,
    n: fit.n,
    ...intervalsOf(points, weight, steepness, fit),
    points: flows.length,
    sdBar,
    misfitShare,
    sharedShare: USUAL_SHARED_SHARE,
  };
}

/** The exponent of a few, and its k by medians over the stronger half, whose losses stand out of the noise. */
function roughFit(flows: Float64Array, losses: Float64Array): { k: number; n: number } | undefined {
  const strong = Array.from(flows, (q, i) => ({ q, loss: losses[i]! }))
    .sort((a, b) => b.q - a.q)
    .slice(0, Math.ceil(flows.length / 2));
  let best: { k: number; n: number } | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const n of STARTING_EXPONENTS) {
    const k = median(strong.map(({ q, loss }) => loss / q ** n));
    const off = median(flows.map((q, i) => Math.abs(losses[i]! - k * q ** n)));
    if (k > 0 && off < least) {
      least = off;
      best = { k, n };
    }
  }
  return best;
}

/** What residuals of the stronger half are more than the noise of their edges, as a share of the loss. */
function shareOfMisfit(computed: Float64Array, losses: Float64Array, edgeSdBar: number): number {
  const middle = median(computed);
  const shares: number[] = [];
  const noises: number[] = [];
  computed.forEach((loss, i) => {
    if (loss < middle) return;
    shares.push(Math.abs(losses[i]! - loss) / loss);
    noises.push(edgeSdBar / loss);
  });
  return Math.sqrt(Math.max(LEAST_MISFIT_SHARE ** 2, (MAD_TO_SIGMA * median(shares)) ** 2 - median(noises) ** 2));
}

/**
 * Intervals of k and n by drawing draws anew: each resample takes one Newton step from the fit of all (a one-step bootstrap),
 * so that it costs five sums a draw.
 * @param steepness derivative of the weighted residual by the residual: what a step must be divided by
 */
function intervalsOf(
  points: readonly LossPoint[],
  weight: Float64Array,
  steepness: Float64Array,
  { k, n }: { readonly k: number; readonly n: number },
): Pick<SupplyCurve, 'kInterval' | 'nInterval' | 'draws'> {
  const byDraw = new Map<number, Float64Array>();
  points.forEach(({ draw, flowLpm, lossBar }, i) => {
    const sums = byDraw.get(draw) ?? new Float64Array(5);
    byDraw.set(draw, sums);
    const f = k * flowLpm ** n;
    const byN = f * Math.log(flowLpm);
    const off = lossBar - f;
    const w = weight[i]!;
    const d = steepness[i]!;
    sums[0]! += d * f * f;
    sums[1]! += d * f * byN;
    sums[2]! += d * byN * byN;
    sums[3]! += w * f * off;
    sums[4]! += w * byN * off;
  });
  const draws = byDraw.size;
  if (draws < FEWEST_POINTS) return { kInterval: undefined, nInterval: undefined, draws };
  const sumsOf = [...byDraw.values()];
  const ks: number[] = [];
  const exponents = bootstrapValues(draws, (times) => {
    let [aa, ab, bb, ra, rb] = [0, 0, EXPONENT_PRIOR.sd ** -2, 0, (EXPONENT_PRIOR.mean - n) * EXPONENT_PRIOR.sd ** -2];
    for (let d = 0; d < draws; d++) {
      const sums = sumsOf[d]!;
      const t = times[d]!;
      aa += t * sums[0]!;
      ab += t * sums[1]!;
      bb += t * sums[2]!;
      ra += t * sums[3]!;
      rb += t * sums[4]!;
    }
    const determinant = aa * bb - ab * ab;
    if (!(determinant > 0)) return Number.NaN;
    ks.push(k * Math.exp((bb * ra - ab * rb) / determinant));
    return n + (aa * rb - ab * ra) / determinant;
  });
  return {
    kInterval: percentileInterval(Float64Array.from(ks).sort()),
    nInterval: percentileInterval(exponents),
    draws,
  };
}

export function meanOf(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i < to; i++) sum += values[i]!;
  return to > from ? sum / (to - from) : Number.NaN;
}

export function meanAt(values: Float64Array, rows: readonly number[]): number {
  return rows.reduce((sum, i) => sum + values[i]!, 0) / rows.length;
}

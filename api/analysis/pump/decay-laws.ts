import { STANDARD_ATMOSPHERE_BAR } from '../../../collector/model/units.ts';
import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import type { Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** What the shape of a slow decay at rest says about where the water goes. */
export interface DecayEvidence {
  /** Natural logarithm of the odds that it passes back to the main rather than out into the air. */
  readonly valveOverLeak: number;
  /** Pressure at which the outflow would cease, over all laws by how well they fit, with its standard deviation. */
  readonly targetBar: number;
  readonly targetSdBar: number;
}

type Weighted = readonly (readonly [value: number, weight: number])[];

/**
 * How the fall answers what the store holds: water q leaves, the pressure falls by q·P^m (absolute). A gas cushion by
 * Boyle's law has m = 2, a warmer polytropic one or pipes beside it a little less, a little gas in stretching pipes 1,
 * pipes alone 0. Weights: how common each is; common practice, no source.
 */
const STORE_POWERS: Weighted = [
  [2, 0.3],
  [1.83, 0.25],
  [1.7, 0.1],
  [1, 0.1],
  [0, 0.25],
];
/** Outflow goes as (p − a)ⁿ: 0.5 by Torricelli, 1 where friction rules in a narrow seat; leaks that open wider pass 1. */
const FLOW_POWERS: Weighted = [
  [0.5, 0.4],
  [0.6, 0.1],
  [0.7, 0.1],
  [0.8, 0.1],
  [0.9, 0.1],
  [1, 0.12],
  [1.1, 0.05],
  [1.2, 0.03],
];
/** A leak ends at the air's pressure at its own height, mostly about the transducer's, else some metres above it. */
const LEAK_ENDS_BAR: Weighted = [
  [-0.05, 0.1],
  [0, 0.5],
  [0.05, 0.1],
  [0.1, 0.1],
  [0.2, 0.06],
  [0.3, 0.05],
  [0.4, 0.04],
  [0.5, 0.03],
  [0.6, 0.02],
];
/** A main lower than this would hardly be boosted without a tank; one at cut-in would leave nothing to cycle. */
const LOWEST_MAIN_BAR = 0.25;
const MAIN_STEPS = 40;
/** A logged inlet is known to within its transducers' errors and the difference of heights. */
const INLET_ERRORS_BAR: Weighted = [
  [-0.15, 0.1],
  [-0.05, 0.25],
  [0, 0.3],
  [0.05, 0.25],
  [0.15, 0.1],
];

const BINS = 10;
const PIECES = 12;
/** Fewer points than this in a bin don't show a slope. */
const POINTS_PER_BIN = 4;
/** The pump's settling after a stop isn't decay. */
const SETTLING_MS = 3_000;
/** Gas squeezed warm cools over the first part of a rest. */
const SETTLING_SHARE = 0.1;
/** A rest of fewer rows shows hardly more than its turns. */
const FEWEST_STEPS = 4;
/** Relative error of a slope that no number of readings takes away: plants obey no law exactly. */
const LEAST_SLOPE_ERROR = 0.012;

interface Bin {
  readonly bar: number;
  /** Logarithm of the fall, bar a second. */
  readonly logFall: number;
  /** Inverse square of its standard error. */
  readonly weight: number;
}

/**
 * Whether decays tend to the air or to the main. With q = k·(p − a)ⁿ and a fall of q·P^m, ln(fall) − m·ln P − n·ln(p − a)
 * is the same at all pressures. Falls are pooled over the rests into bins of pressure, each bin gives its median; every
 * pair of laws is weighed by its misfit (chi-squared) and by how common it is, once with `a` of a leak and once with `a`
 * of the main: a Bayes factor (Kass and Raftery 1995, from memory). `inletBar` is the main where it is logged. Undefined
 * where the rests are too few, too short or too narrow.
 */
export function decayEvidence(
  rows: PumpRows,
  rests: readonly Rest[],
  cutInBar: number,
  inletBar: number | undefined,
): DecayEvidence | undefined {
  const bins = fallsByPressure(rows, rests);
  if (bins.length < 4) return undefined;
  const lowest = bins[0]!.bar;
  const leak = laws(bins, LEAK_ENDS_BAR);
  const valve = laws(bins, mains(Math.min(cutInBar, lowest), inletBar));
  if (valve.length === 0) return undefined;
  const all = [...leak, ...valve];
  // Where no law fits within the errors, the errors are larger than thought.
  const best = all.reduce((least, { chiSquared }) => Math.min(least, chiSquared), Number.POSITIVE_INFINITY);
  const stretch = Math.max(1, best / Math.max(1, bins.length - 2));
  const weightOf = ({ chiSquared, prior }: Law): number => prior * Math.exp((best - chiSquared) / (2 * stretch));
  const sumOf = (some: readonly Law[], of: (law: Law) => number): number =>
    some.reduce((sum, law) => sum + weightOf(law) * of(law), 0);
  const total = sumOf(all, () => 1);
  const targetBar = sumOf(all, ({ endBar }) => endBar) / total;
  const variance = sumOf(all, ({ endBar }) => (endBar - targetBar) ** 2) / total;
  return {
    valveOverLeak: Math.log(sumOf(valve, () => 1) + 1e-12) - Math.log(sumOf(leak, () => 1) + 1e-12),
    targetBar,
    targetSdBar: Math.sqrt(variance),
  };
}

function mains(highestBar: number, inletBar: number | undefined): Weighted {
  if (inletBar !== undefined) return INLET_ERRORS_BAR.map(([error, weight]) => [inletBar + error, weight]);
  const span = highestBar - LOWEST_MAIN_BAR;
  if (span <= 0) return [];
  return Array.from({ length: MAIN_STEPS }, (_, k) => [
    LOWEST_MAIN_BAR + (span * (k + 0.5)) / MAIN_STEPS,
    1 / MAIN_STEPS,
  ]);
}

interface Law {
  readonly endBar: number;
  readonly prior: number;
  readonly chiSquared: number;
}

function laws(bins: readonly Bin[], ends: Weighted): Law[] {
  const found: Law[] = [];
  const logStore = bins.map(({ bar }) => Math.log(bar + STANDARD_ATMOSPHERE_BAR));
  const total = bins.reduce((sum, { weight }) => sum + weight, 0);
  for (const [endBar, endWeight] of ends) {
    if (endBar >= bins[0]!.bar - 1e-3) continue;
    const logDrive = bins.map(({ bar }) => Math.log(bar - endBar));
    for (const [m, storeWeight] of STORE_POWERS) {
      for (const [n, flowWeight] of FLOW_POWERS) {
        let sum = 0;
        let squares = 0;
        bins.forEach(({ logFall, weight }, i) => {
          const rest = logFall - m * logStore[i]! - n * logDrive[i]!;
          sum += weight * rest;
          squares += weight * rest * rest;
        });
        const chiSquared = Math.max(0, squares - (sum * sum) / total);
        found.push({ endBar, prior: endWeight * storeWeight * flowWeight, chiSquared });
      }
    }
  }
  return found;
}

function fallsByPressure(rows: PumpRows, rests: readonly Rest[]): Bin[] {
  const points: { bar: number; fall: number }[] = [];
  for (const rest of rests) {
    let first = rest.fromRow;
    const settling = Math.max(SETTLING_MS, SETTLING_SHARE * (rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!));
    while (first < rest.toRow && rows.timeMs[first]! - rows.timeMs[rest.fromRow]! < settling) first++;
    if (rest.toRow - first < FEWEST_STEPS) continue;
    const size = Math.max(1, Math.floor((rest.toRow - first + 1) / PIECES));
    let last: { bar: number; atMs: number } | undefined;
    for (let from = first; from + size <= rest.toRow + 1; from += size) {
      let sum = 0;
      let time = 0;
      for (let i = from; i < from + size; i++) {
        sum += rows.bar[i]!;
        time += rows.timeMs[i]! - rows.timeMs[first]!;
      }
      const now = { bar: sum / size, atMs: time / size };
      if (last && now.atMs > last.atMs) {
        points.push({ bar: (now.bar + last.bar) / 2, fall: (1000 * (last.bar - now.bar)) / (now.atMs - last.atMs) });
      }
      last = now;
    }
  }
  if (points.length < 4 * POINTS_PER_BIN) return [];
  points.sort((a, b) => a.bar - b.bar);
  const count = Math.min(BINS, Math.floor(points.length / POINTS_PER_BIN));
  const bins: Bin[] = [];
  for (let bin = 0; bin < count; bin++) {
    const part = points.slice(
      Math.floor((bin * points.length) / count),
      Math.floor(((bin + 1) * points.length) / count),
    );
    const fall = median(part.map((point) => point.fall));
    if (!(fall > 0)) continue;
    // Error of a median of normal values: 1.25 standard deviations over √n, the deviation from the median absolute one.
    const spread = MAD_TO_SIGMA * median(part.map((point) => Math.abs(point.fall - fall)));
    const error = Math.hypot(LEAST_SLOPE_ERROR, (1.25 * spread) / Math.sqrt(part.length) / fall);
    bins.push({ bar: median(part.map((point) => point.bar)), logFall: Math.log(fall), weight: error ** -2 });
  }
  return bins;
}

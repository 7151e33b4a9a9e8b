import { STANDARD_ATMOSPHERE_BAR } from '../../../collector/model/units.ts';
import type { DecayBin } from './decay-bins.ts';

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
  [2, 0.35],
  [1.83, 0.3],
  [1.7, 0.12],
  [1, 0.08],
  [0, 0.15],
];
/** The same where the pump takes so long to fill the band: pipes alone are full at once. */
const GAS_FILL_MS = 2_500;
const GAS_STORE_POWERS: Weighted = [
  [2, 0.42],
  [1.83, 0.36],
  [1.7, 0.16],
  [1, 0.04],
  [0, 0.02],
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

/** The bins leave out about this part of a rest at its beginning. */
const LEFT_OUT = 0.1;
/**
 * Gas that was squeezed warm cools against its walls after the run and takes some of the band with it: that part, and how
 * long it takes as a share of the usual rest. Walls and bladder take up most of the heat at once; common practice, no source.
 */
const COOLINGS: readonly { readonly part: number; readonly share: number; readonly weight: number }[] = [
  { part: 0, share: 1, weight: 0.4 },
  ...[0.05, 0.12].flatMap((part) => [0.08, 0.25, 0.7].map((share) => ({ part, share, weight: 0.1 }))),
];

/**
 * Whether decays tend to the air or to the main. With q = k·(p − a)ⁿ and a fall of q·P^m, ln(fall) − m·ln P − n·ln(p − a)
 * is the same at all pressures. Falls are pooled over the rests into bins of pressure, each bin gives its median; every
 * pair of laws is weighed by its misfit (chi-squared) and by how common it is, once with `a` of a leak and once with `a`
 * of the main: a Bayes factor (Kass and Raftery 1995, from memory). `inletBar` is the main where it is logged, `fillMs` how long the pump
 * usually takes to fill the band. Undefined
 * where the rests are too few, too short or too narrow.
 */
export function decayEvidence(
  bins: readonly DecayBin[],
  cutInBar: number,
  inletBar: number | undefined,
  fillMs: number,
): DecayEvidence | undefined {
  if (bins.length < 4) return undefined;
  const lowest = bins[0]!.bar;
  const stores = fillMs >= GAS_FILL_MS ? GAS_STORE_POWERS : STORE_POWERS;
  const leak = laws(bins, stores, LEAK_ENDS_BAR);
  const valve = laws(bins, stores, mains(Math.min(cutInBar, lowest), inletBar));
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

function laws(bins: readonly DecayBin[], stores: Weighted, ends: Weighted): Law[] {
  const found: Law[] = [];
  const logStore = bins.map(({ bar }) => Math.log(bar + STANDARD_ATMOSPHERE_BAR));
  const total = bins.reduce((sum, { weight }) => sum + weight, 0);
  const coolings = coolingTerms(bins);
  for (const [endBar, endWeight] of ends) {
    if (endBar >= bins[0]!.bar - 1e-3) continue;
    const logDrive = bins.map(({ bar }) => Math.log(bar - endBar));
    for (const [m, storeWeight] of stores) {
      for (const [n, flowWeight] of FLOW_POWERS) {
        for (const { logs, weight: coolingWeight } of coolings) {
          let sum = 0;
          let squares = 0;
          for (let i = 0; i < bins.length; i++) {
            const { logFall, weight } = bins[i]!;
            const rest = logFall - m * logStore[i]! - n * logDrive[i]! - logs[i]!;
            sum += weight * rest;
            squares += weight * rest * rest;
          }
          const chiSquared = Math.max(0, squares - (sum * sum) / total);
          found.push({ endBar, prior: endWeight * storeWeight * flowWeight * coolingWeight, chiSquared });
        }
      }
    }
  }
  return found;
}

/** By how much each cooling makes the fall of a bin steeper, as a logarithm. */
function coolingTerms(bins: readonly DecayBin[]): { readonly logs: readonly number[]; readonly weight: number }[] {
  const after = bins.map(() => 0);
  for (let i = bins.length - 2; i >= 0; i--) {
    const pace = (Math.exp(-bins[i]!.logFall) + Math.exp(-bins[i + 1]!.logFall)) / 2;
    after[i] = after[i + 1]! + pace * (bins[i + 1]!.bar - bins[i]!.bar);
  }
  const whole = after[0]!;
  return COOLINGS.map(({ part, share, weight }) => ({
    logs: after.map((seconds) => Math.log1p((part / share) * Math.exp(-(seconds / whole + LEFT_OUT) / share))),
    weight,
  }));
}

import { STANDARD_ATMOSPHERE_BAR } from '../../../collector/model/units.ts';
import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import type { Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** What a slow decay at rest tends to, by the law that fits it best. */
export interface DecayTarget {
  /** Pressure at which the outflow would cease. About nought for a leak to the air, the inlet's for a passing valve. */
  readonly bar: number;
  readonly standardErrorBar: number;
  /** What other laws that fit as well, or nearly, would say: the verdict is sure only if they agree. */
  readonly otherBars: readonly number[];
}

/** How a store of water answers, and how an opening lets it out. */
interface Law {
  /** Litres per bar, up to a factor, at a gauge pressure. */
  readonly store: (bar: number) => number;
  /** Outflow goes as (p − a) to this power: 0.5 by Torricelli, 1 where friction rules in a narrow seat. */
  readonly power: number;
}

/** A gas cushion by Boyle's law gives V·P0/P² litres per bar; pipes that stretch give the same at any pressure. */
const gasCushion = (bar: number): number => (bar + STANDARD_ATMOSPHERE_BAR) ** -2;
const stretch = (): number => 1;
/** A little gas left beside pipes that stretch lies between the two. */
const littleGas = (bar: number): number => (bar + STANDARD_ATMOSPHERE_BAR) ** -1;
/** The usual plant first: where fits are alike it is taken. */
const LAWS: readonly Law[] = [
  { store: gasCushion, power: 0.5 },
  { store: gasCushion, power: 1 },
  { store: stretch, power: 1 },
  { store: stretch, power: 0.5 },
  { store: littleGas, power: 0.5 },
];

const BINS = 10;
const PIECES = 12;
/** Fewer points than this in a bin don't show a slope. */
const POINTS_PER_BIN = 4;
/** The pump's settling after a stop isn't decay. */
const SETTLING_MS = 3_000;
/** Fall of chi-squared at which another law displaces the usual one (three standard deviations), and is still heard. */
const DISPLACES = 9;
const STILL_HEARD = 4;
/** Nothing sucks water out: a law that ends this far below the air's pressure is not this plant's. */
const LOWEST_TARGET_BAR = -0.5;
/** Relative error of a slope that no number of readings takes away: plants obey no law exactly. */
const LEAST_SLOPE_ERROR = 0.012;

/**
 * The pressure that decays tend to. With q = k·(p − a)ⁿ and a store of c(p) litres per bar, (c·|dp/dt|)^(1/n) is a line
 * in p that meets nought at a. Slopes are pooled over the rests into bins of pressure, each bin gives its median, and
 * the line is fitted by weighted least squares for each law; the law with the smallest misfit is taken. Undefined where
 * the rests are too few, too short or too narrow.
 */
export function decayTarget(rows: PumpRows, rests: readonly Rest[]): DecayTarget | undefined {
  const bins = slopesByPressure(rows, rests);
  if (bins.length < 4) return undefined;
  const fits = LAWS.flatMap((law) => {
    const fit = fitLaw(bins, law);
    const possible = fit && fit.bar + 2 * fit.standardErrorBar >= LOWEST_TARGET_BAR && fit.bar < bins[0]!.bar;
    return possible ? [fit] : [];
  });
  let best = fits[0];
  if (!best) return undefined;
  for (const fit of fits) if (fit.chiSquared < best.chiSquared - DISPLACES) best = fit;
  const chosen = best;
  const heard = fits.filter((fit) => fit !== chosen && fit.chiSquared < chosen.chiSquared + STILL_HEARD);
  return {
    bar: chosen.bar,
    standardErrorBar: chosen.standardErrorBar,
    otherBars: heard.map((fit) => fit.bar),
  };
}

interface Bin {
  readonly bar: number;
  /** Bar a second, positive as the pressure falls. */
  readonly fall: number;
  /** Relative standard error of the fall. */
  readonly error: number;
}

function slopesByPressure(rows: PumpRows, rests: readonly Rest[]): Bin[] {
  const points: { bar: number; fall: number }[] = [];
  for (const rest of rests) {
    let first = rest.fromRow;
    while (first < rest.toRow && rows.timeMs[first]! - rows.timeMs[rest.fromRow]! < SETTLING_MS) first++;
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
    bins.push({ bar: median(part.map((point) => point.bar)), fall, error });
  }
  return bins;
}

/** Weighted straight line y = b·(p − a); the weights are the slopes' errors, carried through the power. */
function fitLaw(
  bins: readonly Bin[],
  law: Law,
): { bar: number; standardErrorBar: number; chiSquared: number } | undefined {
  const lines = bins.map(({ bar, fall, error }) => {
    const y = (law.store(bar) * fall) ** (1 / law.power);
    return { x: bar, y, weight: ((error * y) / law.power) ** -2 };
  });
  const total = lines.reduce((sum, { weight }) => sum + weight, 0);
  const meanX = lines.reduce((sum, { x, weight }) => sum + weight * x, 0) / total;
  const meanY = lines.reduce((sum, { y, weight }) => sum + weight * y, 0) / total;
  const xx = lines.reduce((sum, { x, weight }) => sum + weight * (x - meanX) ** 2, 0);
  const xy = lines.reduce((sum, { x, y, weight }) => sum + weight * (x - meanX) * (y - meanY), 0);
  if (!(xy > 0)) return undefined;
  const slope = xy / xx;
  const chiSquared = lines.reduce((sum, { x, y, weight }) => sum + weight * (y - meanY - slope * (x - meanX)) ** 2, 0);
  const inflation = Math.max(1, chiSquared / Math.max(1, lines.length - 2));
  // a = x̄ − ȳ/b: its error by the law of propagation (JCGM 100, 5.1), ȳ and b being uncorrelated.
  const standardErrorBar = Math.sqrt(inflation * (1 / total / slope ** 2 + (meanY / slope ** 2) ** 2 / xx));
  return { bar: meanX - meanY / slope, standardErrorBar, chiSquared };
}

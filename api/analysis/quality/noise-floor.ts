import { quantileOfSorted, sortedFinite } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';

/** Rows read for the estimate: spread over the log in stretches, so that a busy day doesn't decide. */
const MOST_ROWS_READ = 200_000;
const STRETCH_ROWS = 200;
/** Differences below this are the rounding of stored digits. */
const LEAST_STEP_BAR = 1e-5;
/** Stored digits: a step no greater than this is the format's, not the converter's. */
const DIGIT_STEP_BAR = 0.0011;

export interface NoiseFloor {
  /** One standard deviation of a single reading, quantisation included. */
  readonly noiseBar: number;
  /** Step of the converter, or 0 where none shows. */
  readonly quantumBar: number;
}

/**
 * Noise from second differences of neighbouring readings, p₋₁ − 2p₀ + p₊₁, whose variance is 6σ² for white noise and
 * which neither a level nor a slope enters; by their median size, so that draws don't count. The converter's step is
 * the smallest difference of which all small differences are multiples.
 */
export function noiseFloor(pressureBar: Float64Array): NoiseFloor {
  const n = pressureBar.length;
  const stretches = Math.max(1, Math.floor(Math.min(n, MOST_ROWS_READ) / STRETCH_ROWS));
  const second: number[] = [];
  const first: number[] = [];
  for (let s = 0; s < stretches; s++) {
    const from = Math.floor((s * (n - 1)) / stretches);
    const to = Math.min(n - 1, from + STRETCH_ROWS - 1);
    for (let i = from + 1; i < to; i++) {
      const bend = pressureBar[i - 1]! - 2 * pressureBar[i]! + pressureBar[i + 1]!;
      const step = Math.abs(pressureBar[i]! - pressureBar[i - 1]!);
      if (Number.isFinite(bend)) second.push(Math.abs(bend));
      if (Number.isFinite(step) && step > LEAST_STEP_BAR) first.push(step);
    }
  }
  const quantumBar = converterStep(first);
  // A quiet main on a coarse converter bends by nought most of the time: the upper part still tells how much it moves.
  const bends = sortedFinite(second);
  const byMedian = (MAD_TO_SIGMA * quantileOfSorted(bends, 0.5)) / Math.sqrt(6);
  const byUpper = quantileOfSorted(bends, 0.8) / 1.2816 / Math.sqrt(6);
  const measured = second.length === 0 ? 0 : byMedian > 0 ? byMedian : Math.min(byUpper, quantumBar / 2);
  return { noiseBar: Math.max(measured, quantumBar / Math.sqrt(12), 0.0005), quantumBar };
}

/** The common step of a list of differences; 0 where they share none that is coarser than stored digits. */
function converterStep(steps: readonly number[]): number {
  if (steps.length < 50) return 0;
  const least = steps.reduce((smallest, step) => Math.min(smallest, step), Number.POSITIVE_INFINITY);
  const near = steps.filter((step) => step < 1.4 * least);
  const step = near.reduce((sum, s) => sum + s, 0) / near.length;
  if (step <= DIGIT_STEP_BAR || near.length < 0.02 * steps.length) return 0;
  const small = steps.filter((s) => s < 8 * step);
  const fitting = small.filter((s) => Math.abs(s / step - Math.round(s / step)) < 0.15).length;
  return fitting >= 0.97 * small.length ? step : 0;
}

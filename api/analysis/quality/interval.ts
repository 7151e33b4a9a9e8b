import { quantile } from '../statistics/quantile.ts';

/** Enough steps between stamps for a sure median, whatever the length of the log. */
const MOST_STEPS_READ = 20_001;

/** Below this share of steps forward, order of arrival says nothing of the interval. */
const LEAST_FORWARD_SHARE = 0.5;

/**
 * Logging interval in seconds: the median of the steps forward between stamps in order of arrival (of the sorted stamps where few go forward), whole seconds where
 * it is within 2 % of them. Undefined below two distinct stamps.
 */
export function estimateIntervalS(timeMs: Float64Array): number | undefined {
  const stride = Math.max(1, Math.floor(timeMs.length / MOST_STEPS_READ));
  let steps = stepsForward(timeMs, stride);
  // A log that came newest first steps forward by chance only, from batch to batch.
  if (steps.length < (LEAST_FORWARD_SHARE * (timeMs.length - 1)) / stride)
    steps = stepsForward(timeMs.slice().sort(), stride);
  if (steps.length === 0) return undefined;
  const seconds = quantile(steps, 0.5) / 1000;
  const whole = Math.round(seconds);
  return whole >= 1 && Math.abs(seconds - whole) <= 0.02 * whole ? whole : seconds;
}

function stepsForward(timeMs: Float64Array, stride: number): number[] {
  const steps: number[] = [];
  for (let i = 1; i < timeMs.length; i += stride) {
    const step = timeMs[i]! - timeMs[i - 1]!;
    if (step > 0) steps.push(step);
  }
  return steps;
}

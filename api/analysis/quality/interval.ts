import { quantile } from '../statistics/quantile.ts';

/** Enough steps between stamps for a sure median, whatever the length of the log. */
const MOST_STEPS_READ = 20_001;

/**
 * Logging interval in seconds: the median of the steps forward between stamps in order of arrival, whole seconds where
 * it is within 2 % of them. Undefined below two distinct stamps.
 */
export function estimateIntervalS(timeMs: Float64Array): number | undefined {
  const stride = Math.max(1, Math.floor(timeMs.length / MOST_STEPS_READ));
  const steps: number[] = [];
  for (let i = 1; i < timeMs.length; i += stride) {
    const step = timeMs[i]! - timeMs[i - 1]!;
    if (step > 0) steps.push(step);
  }
  if (steps.length === 0) return undefined;
  const seconds = quantile(steps, 0.5) / 1000;
  const whole = Math.round(seconds);
  return whole >= 1 && Math.abs(seconds - whole) <= 0.02 * whole ? whole : seconds;
}

import { median } from './quantile.ts';

/** 1/Φ⁻¹(3/4): makes the median absolute deviation a standard deviation for normal data. */
export const MAD_TO_SIGMA = 1.482602218505602;

/** Median absolute deviation from the median, unscaled. */
export function medianAbsoluteDeviation(values: ArrayLike<number>): number {
  const centre = median(values);
  const distances = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) distances[i] = Math.abs(values[i]! - centre);
  return median(distances);
}

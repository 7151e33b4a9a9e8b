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

/**
 * Hampel identifier: index i is marked where |xᵢ − median| > t · 1.4826 · MAD in the window i ± k (shortened at the
 * edges). `floor` is the least scale in the data's unit: with a flat quantised signal the MAD is nought and every
 * change would be marked.
 */
export function hampel(values: ArrayLike<number>, k: number, t: number, floor = 0): number[] {
  const marked: number[] = [];
  for (let i = 0; i < values.length; i++) {
    const window: number[] = [];
    for (let j = Math.max(0, i - k); j <= Math.min(values.length - 1, i + k); j++) window.push(values[j]!);
    const centre = median(window);
    const scale = Math.max(floor, MAD_TO_SIGMA * medianAbsoluteDeviation(window));
    if (Math.abs(values[i]! - centre) > t * scale) marked.push(i);
  }
  return marked;
}

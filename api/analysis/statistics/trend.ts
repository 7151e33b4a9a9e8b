import { normalCdf } from './normal.ts';
import { median } from './quantile.ts';

/**
 * Theil–Sen line: slope is the median of all pairwise slopes, intercept median(y) − slope · median(x)
 * (Conover's form; USGS TM 4-A3, chapter 10). Quadratic in n: meant for daily values.
 */
export function theilSen(x: ArrayLike<number>, y: ArrayLike<number>): { slope: number; intercept: number } {
  const slopes: number[] = [];
  for (let i = 0; i < x.length; i++) {
    for (let j = i + 1; j < x.length; j++) {
      const dx = x[j]! - x[i]!;
      if (dx !== 0) slopes.push((y[j]! - y[i]!) / dx);
    }
  }
  const slope = median(slopes);
  return { slope, intercept: median(y) - slope * median(x) };
}

export interface MannKendall {
  readonly s: number;
  readonly variance: number;
  readonly z: number;
  /** One-sided chance of so great an S in its own direction, by the normal approximation. */
  readonly oneSidedP: number;
  /** Kendall's tau-a, S over the number of pairs. */
  readonly tau: number;
}

/** Mann–Kendall test for a trend, with ties (Gilbert 1987; EPA QA/G-9S). Assumes independence: feed it daily values. */
export function mannKendall(values: ArrayLike<number>): MannKendall {
  const n = values.length;
  let s = 0;
  const ties = new Map<number, number>();
  for (let i = 0; i < n; i++) {
    ties.set(values[i]!, (ties.get(values[i]!) ?? 0) + 1);
    for (let j = i + 1; j < n; j++) s += Math.sign(values[j]! - values[i]!);
  }
  let tieTerm = 0;
  for (const t of ties.values()) tieTerm += t * (t - 1) * (2 * t + 5);
  const variance = (n * (n - 1) * (2 * n + 5) - tieTerm) / 18;
  const z = s === 0 || variance <= 0 ? 0 : (s - Math.sign(s)) / Math.sqrt(variance);
  return { s, variance, z, oneSidedP: 1 - normalCdf(Math.abs(z)), tau: n < 2 ? 0 : s / ((n * (n - 1)) / 2) };
}

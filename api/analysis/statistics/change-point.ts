/** Where a list changes from one level to another, and which other splits the values allow as well. */
export interface LikelySplits {
  /** First index after the change, at the best split. */
  readonly best: number;
  /** Earliest and latest split whose likelihood is within 95 % of the best one's. */
  readonly first: number;
  readonly last: number;
}

/** Half of the 95 % quantile of χ² with one degree of freedom. */
const LOG_LIKELIHOOD_95 = 1.92;

/**
 * The split at which two levels fit best by least squares, and all those that a likelihood ratio doesn't exclude at 95 %
 * (normal errors; Hinkley, Biometrika 57(1), 1970, 1–17). What isn't finite tells nothing; linear in the values.
 * @param least values on each side
 * @param correlated how many neighbouring values count for one
 */
export function likelySplits(values: ArrayLike<number>, least: number, correlated: number): LikelySplits {
  const n = values.length;
  const sums = new Float64Array(n + 1);
  const counts = new Float64Array(n + 1);
  let squares = 0;
  for (let i = 0; i < n; i++) {
    const value = values[i]!;
    const usable = Number.isFinite(value);
    sums[i + 1] = sums[i]! + (usable ? value : 0);
    counts[i + 1] = counts[i]! + (usable ? 1 : 0);
    if (usable) squares += value * value;
  }
  const explained = (k: number): number => {
    const a = counts[k]!;
    const b = counts[n]! - a;
    if (a === 0 || b === 0) return -1;
    const difference = sums[k]! / a - (sums[n]! - sums[k]!) / b;
    return ((a * b) / (a + b)) * difference * difference;
  };
  let best = least;
  let most = -1;
  for (let k = least; k <= n - least; k++) {
    const gain = explained(k);
    if (gain > most) {
      most = gain;
      best = k;
    }
  }
  const known = counts[n]!;
  const left = squares - (sums[n]! * sums[n]!) / Math.max(1, known) - most;
  const allowed = most - 2 * LOG_LIKELIHOOD_95 * correlated * Math.max(0, left / Math.max(1, known - 2));
  let first = best;
  let last = best;
  for (let k = least; k <= n - least; k++) {
    if (explained(k) < allowed) continue;
    first = Math.min(first, k);
    last = Math.max(last, k);
  }
  return { best, first, last };
}

/**
 * Quantile of an ascending list, type 7 of Hyndman and Fan (Am. Statist. 50(4), 1996): h = (n − 1)p + 1, linear
 * between order statistics. NaN for an empty list.
 */
export function quantileOfSorted(sorted: ArrayLike<number>, p: number): number {
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  const h = (n - 1) * Math.min(1, Math.max(0, p));
  const low = Math.floor(h);
  const high = Math.min(n - 1, low + 1);
  const below = sorted[low]!;
  return below + (h - low) * (sorted[high]! - below);
}

/** Ascending copy of the finite values of a list. */
export function sortedFinite(values: ArrayLike<number>): Float64Array {
  const kept = new Float64Array(values.length);
  let n = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isFinite(value)) kept[n++] = value;
  }
  return kept.subarray(0, n).sort();
}

/** Quantile (type 7) of a list in any order; what is not finite is left out. */
export function quantile(values: ArrayLike<number>, p: number): number {
  return quantileOfSorted(sortedFinite(values), p);
}

export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5);
}

/**
 * Quantile of sizes that were rounded to a grid: each stands for all sizes nearer to it than to the next, evenly. On a
 * grid as coarse as the sizes a plain quantile could only be one of its few points.
 * @param sizes at least nought, in any order
 * @param step of the grid; nought for none
 */
export function quantileOnGrid(sizes: ArrayLike<number>, p: number, step: number): number {
  const sorted = sortedFinite(sizes);
  const plain = quantileOfSorted(sorted, p);
  if (!(step > 0) || sorted.length === 0) return plain;
  const lower = Math.max(0, (Math.round(plain / step) - 0.5) * step);
  const upper = (Math.round(plain / step) + 0.5) * step;
  let below = 0;
  while (below < sorted.length && sorted[below]! < lower) below++;
  let upTo = below;
  while (upTo < sorted.length && sorted[upTo]! < upper) upTo++;
  if (upTo === below) return plain;
  const share = Math.min(1, Math.max(0, (p * sorted.length - below) / (upTo - below)));
  return lower + share * (upper - lower);
}

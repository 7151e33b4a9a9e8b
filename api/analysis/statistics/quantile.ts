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
  return finiteOf(values).sort();
}

function finiteOf(values: ArrayLike<number>): Float64Array {
  const kept = new Float64Array(values.length);
  let n = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isFinite(value)) kept[n++] = value;
  }
  return kept.subarray(0, n);
}

/** Quantile (type 7) of a list in any order; what is not finite is left out. Linear in the list on average. */
export function quantile(values: ArrayLike<number>, p: number): number {
  const kept = finiteOf(values);
  const n = kept.length;
  if (n === 0) return Number.NaN;
  const h = (n - 1) * Math.min(1, Math.max(0, p));
  const low = Math.floor(h);
  const below = orderStatistic(kept, low);
  if (h === low) return below;
  let above = Number.POSITIVE_INFINITY;
  for (let i = low + 1; i < n; i++) if (kept[i]! < above) above = kept[i]!;
  return below + (h - low) * (above - below);
}

/**
 * The value that would stand at place `k` if a list were sorted, by Hoare's selection (Comm. ACM 4(7), 1961, algorithm 65);
 * rearranges the list so that nothing after that place is less.
 */
function orderStatistic(values: Float64Array, k: number): number {
  let left = 0;
  let right = values.length - 1;
  while (left < right) {
    const a = values[left]!;
    const b = values[(left + right) >> 1]!;
    const c = values[right]!;
    // The median of three keeps sorted lists linear.
    const pivot = Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
    let i = left;
    let j = right;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i > j) break;
      const swapped = values[i]!;
      values[i++] = values[j]!;
      values[j--] = swapped;
    }
    if (k <= j) right = j;
    else if (k >= i) left = i;
    else break;
  }
  return values[k]!;
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

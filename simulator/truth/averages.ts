/** Sums from the start, one longer than the column: the mean of [a, b) is (sums[b] − sums[a])/(b − a). */
export function runningSums(column: Float64Array): Float64Array {
  const sums = new Float64Array(column.length + 1);
  for (let i = 0; i < column.length; i++) sums[i + 1] = sums[i]! + column[i]!;
  return sums;
}

/** Mean over `width` samples about the index, less at the ends of the column. */
export function centredMean(sums: Float64Array, index: number, width: number): number {
  const from = Math.max(0, index - Math.floor(width / 2));
  const to = Math.min(sums.length - 1, from + width);
  return (sums[to]! - sums[from]!) / (to - from);
}

/** Median of every `stride`-th sample of [from, to), or undefined where there is none. */
export function medianOf(column: Float64Array, from: number, to: number, stride = 1): number | undefined {
  const picked: number[] = [];
  for (let i = Math.max(0, from); i < Math.min(column.length, to); i += stride) picked.push(column[i]!);
  if (picked.length === 0) return undefined;
  const sorted = Float64Array.from(picked).sort();
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

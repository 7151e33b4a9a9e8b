/**
 * The yardstick of the analysis: three rolling quantiles of a series of whole millibars by a counting histogram with a
 * Fenwick tree (Fenwick 1994), exact for integers. Output: one column a quantile.
 */
export function rollingQuantiles(values: Int32Array, window: number, quantiles: readonly number[]): Int32Array[] {
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  let size = 1;
  while (size < highest - lowest + 2) size *= 2;
  const tree = new Int32Array(size + 1);
  const columns = quantiles.map(() => new Int32Array(values.length));
  const add = (value: number, count: number) => {
    for (let index = value - lowest + 1; index <= size; index += index & -index) tree[index]! += count;
  };
  for (let row = 0; row < values.length; row++) {
    add(values[row]!, 1);
    if (row >= window) add(values[row - window]!, -1);
    const filled = Math.min(row + 1, window);
    for (const [which, quantile] of quantiles.entries()) {
      let rank = Math.max(1, Math.ceil(quantile * filled));
      let position = 0;
      for (let step = size; step > 0; step >>= 1) {
        const next = position + step;
        if (next <= size && tree[next]! < rank) {
          position = next;
          rank -= tree[next]!;
        }
      }
      columns[which]![row] = position + lowest;
    }
  }
  return columns;
}

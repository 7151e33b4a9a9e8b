/** The value with half of the weight on either side; NaN of none. */
export function weightedMedian(values: readonly number[], weights: readonly number[]): number {
  const order = values.map((_, i) => i).sort((a, b) => values[a]! - values[b]!);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  let reached = 0;
  for (const i of order) {
    reached += weights[i]!;
    if (reached >= total / 2) return values[i]!;
  }
  return Number.NaN;
}

/**
 * The level at which values crowd: the mean of those inside the window of the given width that holds most of them
 * (the widest crowd's shorth-like mode). Unlike a mean or median it isn't moved by a long tail. NaN of none.
 */
export function crowdedLevel(values: readonly number[], width: number): number {
  const ascending = Float64Array.from(values).sort();
  let bestCount = 0;
  let best = Number.NaN;
  let from = 0;
  let sum = 0;
  for (let to = 0; to < ascending.length; to++) {
    sum += ascending[to]!;
    while (ascending[to]! - ascending[from]! > width) sum -= ascending[from++]!;
    const count = to - from + 1;
    if (count > bestCount) {
      bestCount = count;
      best = sum / count;
    }
  }
  return best;
}

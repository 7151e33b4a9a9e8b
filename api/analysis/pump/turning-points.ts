/** One rise between two turning points, as row numbers; `fromPeak` is the turning point (or stretch start) before. */
export interface Rise {
  readonly fromPeak: number;
  readonly valley: number;
  readonly peak: number;
}

/**
 * Rises of at least `reversalBar` between the turning points of a stretch: a point counts as a valley or a peak once
 * the reading has turned by that much. The last rise may still be going on. Linear time.
 */
export function risesOf(bar: Float64Array, from: number, to: number, reversalBar: number): Rise[] {
  const rises: Rise[] = [];
  if (to - from < 2) return rises;
  let low = from;
  let high = from;
  let lastPeak = from;
  let direction: 'unknown' | 'up' | 'down' = 'unknown';
  for (let i = from + 1; i < to; i++) {
    const value = bar[i]!;
    if (direction !== 'down' && value > bar[high]!) high = i;
    if (direction !== 'up' && value <= bar[low]!) low = i;
    if (direction !== 'up' && value - bar[low]! >= reversalBar) {
      direction = 'up';
      high = i;
    } else if (direction !== 'down' && bar[high]! - value >= reversalBar) {
      if (direction === 'up') rises.push({ fromPeak: lastPeak, valley: low, peak: high });
      lastPeak = high;
      direction = 'down';
      low = i;
    }
  }
  if (direction === 'up') rises.push({ fromPeak: lastPeak, valley: low, peak: high });
  return rises;
}

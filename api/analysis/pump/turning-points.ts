/** One rise between two turning points, as row numbers; `fromPeak` is the turning point (or stretch start) before. */
export interface Rise {
  readonly fromPeak: number;
  readonly valley: number;
  readonly peak: number;
}

/** Where the search for turning points stands within a stretch; `turnAt` moves it on by one row. */
export interface TurnSearch {
  low: number;
  high: number;
  lastPeak: number;
  direction: 'unknown' | 'up' | 'down';
}

export function beginTurns(from: number): TurnSearch {
  return { low: from, high: from, lastPeak: from, direction: 'unknown' };
}

/** The rise that this row ends by having turned down by `reversalBar`, if it does. */
export function turnAt(search: TurnSearch, bar: Float64Array, row: number, reversalBar: number): Rise | undefined {
  const value = bar[row]!;
  if (search.direction !== 'down' && value > bar[search.high]!) search.high = row;
  if (search.direction !== 'up' && value <= bar[search.low]!) search.low = row;
  if (search.direction !== 'up' && value - bar[search.low]! >= reversalBar) {
    search.direction = 'up';
    search.high = row;
  } else if (search.direction !== 'down' && bar[search.high]! - value >= reversalBar) {
    const rise = riseSoFar(search);
    search.lastPeak = search.high;
    search.direction = 'down';
    search.low = row;
    return rise;
  }
  return undefined;
}

/** The rise that is going on, if one is. */
export function riseSoFar({ lastPeak, low, high, direction }: TurnSearch): Rise | undefined {
  return direction === 'up' ? { fromPeak: lastPeak, valley: low, peak: high } : undefined;
}

/**
 * Rises of at least `reversalBar` between the turning points of a stretch: a point counts as a valley or a peak once
 * the reading has turned by that much. The last rise may still be going on. Linear time.
 */
export function risesOf(bar: Float64Array, from: number, to: number, reversalBar: number): Rise[] {
  const rises: Rise[] = [];
  if (to - from < 2) return rises;
  const search = beginTurns(from);
  for (let row = from + 1; row < to; row++) {
    const rise = turnAt(search, bar, row, reversalBar);
    if (rise) rises.push(rise);
  }
  const last = riseSoFar(search);
  if (last) rises.push(last);
  return rises;
}

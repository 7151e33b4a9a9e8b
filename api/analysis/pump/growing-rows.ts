import type { PumpGrain } from './pump-grain.ts';
import type { PumpRows } from './pump-rows.ts';

/** Usable rows that grow at the end. A row is settled once those that its running median needs have come. */
export interface GrowingRows extends PumpGrain {
  timeMs: Float64Array;
  bar: Float64Array;
  /** The very same array as `bar` where no filter is needed. */
  calmBar: Float64Array;
  readonly window: Float64Array;
  count: number;
  readonly stretchFrom: number[];
  /** Rows before this one are settled. */
  settled: number;
}

export function beginRows(grain: PumpGrain, capacity: number): GrowingRows {
  const bar = new Float64Array(capacity);
  const calmBar = grain.filterWidth === 1 ? bar : new Float64Array(capacity);
  const timeMs = new Float64Array(capacity);
  return {
    ...grain,
    timeMs,
    bar,
    calmBar,
    window: new Float64Array(grain.filterWidth),
    count: 0,
    stretchFrom: [],
    settled: 0,
  };
}

/** Whether a reading at that time comes after a gap: all rows before it are settled then, the last with their own value. */
export function comesAfterGap(rows: GrowingRows, nextMs: number): boolean {
  return rows.count > 0 && nextMs - rows.timeMs[rows.count - 1]! > rows.longestStepMs;
}

/** Appends a usable reading; what settles by it are the rows up to `settled`. */
export function appendRow(rows: GrowingRows, atMs: number, bar: number): void {
  const opensStretch = rows.count === 0 || comesAfterGap(rows, atMs);
  if (rows.count === rows.timeMs.length) grow(rows, Math.max(1024, 2 * rows.count));
  const row = rows.count++;
  rows.timeMs[row] = atMs;
  rows.bar[row] = bar;
  rows.calmBar[row] = bar;
  if (opensStretch) {
    rows.stretchFrom.push(row);
    rows.settled = row;
  }
  const half = (rows.filterWidth - 1) / 2;
  const middle = row - half;
  if (half > 0 && middle - half >= rows.stretchFrom[rows.stretchFrom.length - 1]!) {
    rows.calmBar[middle] = medianAbout(rows, middle, half);
  }
  rows.settled = Math.max(rows.settled, middle + 1);
}

/** Takes back rows that came last: from `count` on. Those that were settled stay so; the others have their own value again. */
export function reopenRows(rows: GrowingRows, count: number, settled: number, stretches: number): void {
  rows.count = count;
  rows.settled = settled;
  rows.stretchFrom.length = stretches;
  if (rows.calmBar !== rows.bar) rows.calmBar.set(rows.bar.subarray(settled, count), settled);
}

/** The rows as they stand, without copying. */
export function rowsSoFar(rows: GrowingRows): PumpRows {
  const { count, noiseBar, calmNoiseBar, quantumBar, intervalMs } = rows;
  const bar = rows.bar.subarray(0, count);
  return {
    timeMs: rows.timeMs.subarray(0, count),
    bar,
    calmBar: rows.calmBar === rows.bar ? bar : rows.calmBar.subarray(0, count),
    stretchFrom: Int32Array.from([...rows.stretchFrom, count]),
    noiseBar,
    calmNoiseBar,
    quantumBar,
    intervalMs,
  };
}

function grow(rows: GrowingRows, capacity: number): void {
  const larger = (column: Float64Array): Float64Array => {
    const grown = new Float64Array(capacity);
    grown.set(column);
    return grown;
  };
  const same = rows.calmBar === rows.bar;
  rows.timeMs = larger(rows.timeMs);
  rows.bar = larger(rows.bar);
  rows.calmBar = same ? rows.bar : larger(rows.calmBar);
}

/** Median of a row and as many neighbours on either side, by insertion into a window kept for the purpose. */
function medianAbout({ bar, window }: GrowingRows, middle: number, half: number): number {
  for (let k = 0; k <= 2 * half; k++) {
    const value = bar[middle - half + k]!;
    let place = k;
    while (place > 0 && window[place - 1]! > value) {
      window[place] = window[place - 1]!;
      place--;
    }
    window[place] = value;
  }
  return window[half]!;
}

import { median } from '../statistics/quantile.ts';

/** Usable rows of one transducer, ascending in time, cut into stretches without a gap. */
export interface PumpRows {
  readonly timeMs: Float64Array;
  readonly bar: Float64Array;
  /** The same readings with the noise's tops cut off, edges kept: where turning points are looked for. */
  readonly calmBar: Float64Array;
  /** Index of each stretch's first row, with the number of rows as the last entry. */
  readonly stretchFrom: Int32Array;
  /** Standard deviation of a reading about the true pressure, converter steps included. */
  readonly noiseBar: number;
  /** The same of a calm reading. */
  readonly calmNoiseBar: number;
  readonly quantumBar: number;
  readonly intervalMs: number;
}

/** Rows further apart than this hide too much of a pump's doing to be read as one stretch. */
const GAP_INTERVALS = 3.5;
const GAP_SHORTEST_MS = 10_000;
/** Spread of the median of 3 and of 5 normal readings, over that of one (order statistics of the normal law). */
const MEDIAN_OF_3_SPREAD = 0.67;
const MEDIAN_OF_5_SPREAD = 0.536;
/** Below this noise no filter is needed, and a filter would cost the quickest cycles. */
const QUIET_BAR = 0.012;
const LOUD_BAR = 0.03;
/** A median spanning more than this would swallow whole runs of a pump. */
const FILTER_LONGEST_MS = 6_000;

/** Takes out unusable rows, cuts at gaps and calms the noise. Linear time. */
export function pumpRows(
  timeMs: Float64Array,
  pressureBar: Float64Array,
  intervalS: number,
  noiseBar: number,
  quantumBar: number,
): PumpRows {
  const times = new Float64Array(timeMs.length);
  const bars = new Float64Array(timeMs.length);
  let count = 0;
  for (let i = 0; i < timeMs.length; i++) {
    const bar = pressureBar[i]!;
    if (Number.isNaN(bar)) continue;
    times[count] = timeMs[i]!;
    bars[count++] = bar;
  }
  const time = times.subarray(0, count);
  const bar = bars.subarray(0, count);
  const intervalMs = intervalS > 0 ? intervalS * 1000 : medianStepMs(time);
  const longestStepMs = Math.max(GAP_INTERVALS * intervalMs, GAP_SHORTEST_MS);
  const from: number[] = count > 0 ? [0] : [];
  for (let i = 1; i < count; i++) if (time[i]! - time[i - 1]! > longestStepMs) from.push(i);
  from.push(count);
  const stretchFrom = Int32Array.from(from);
  const noise = Math.sqrt(noiseBar * noiseBar + (quantumBar * quantumBar) / 12);
  const width =
    noise > LOUD_BAR && 5 * intervalMs <= FILTER_LONGEST_MS
      ? 5
      : noise > QUIET_BAR && 3 * intervalMs <= FILTER_LONGEST_MS
        ? 3
        : 1;
  return {
    timeMs: time,
    bar,
    calmBar: width === 1 ? bar : runningMedian(bar, stretchFrom, width),
    stretchFrom,
    noiseBar: noise,
    calmNoiseBar: noise * (width === 5 ? MEDIAN_OF_5_SPREAD : width === 3 ? MEDIAN_OF_3_SPREAD : 1),
    quantumBar,
    intervalMs,
  };
}

function medianStepMs(timeMs: Float64Array): number {
  const steps = new Float64Array(Math.max(0, Math.min(timeMs.length - 1, 10_000)));
  for (let i = 0; i < steps.length; i++) steps[i] = timeMs[i + 1]! - timeMs[i]!;
  return steps.length === 0 ? 1000 : median(steps);
}

/** Median of a row and its neighbours, within each stretch; rows at a stretch's ends keep their own value. */
export function runningMedian(bar: Float64Array, stretchFrom: Int32Array, width: 3 | 5): Float64Array {
  const calm = Float64Array.from(bar);
  const half = (width - 1) / 2;
  const window = new Float64Array(width);
  for (let s = 0; s + 1 < stretchFrom.length; s++) {
    for (let i = stretchFrom[s]! + half; i < stretchFrom[s + 1]! - half; i++) {
      for (let k = 0; k < width; k++) {
        const value = bar[i - half + k]!;
        let place = k;
        while (place > 0 && window[place - 1]! > value) {
          window[place] = window[place - 1]!;
          place--;
        }
        window[place] = value;
      }
      calm[i] = window[half]!;
    }
  }
  return calm;
}

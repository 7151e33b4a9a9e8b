import { median } from '../statistics/quantile.ts';
import { appendRow, beginRows, rowsSoFar } from './growing-rows.ts';
import { pumpGrain } from './pump-grain.ts';

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

/** What is read of rows when it doesn't matter where the stretches lie. */
export type ReadRows = Omit<PumpRows, 'stretchFrom'>;

/** Takes out unusable rows, cuts at gaps and calms the noise. Linear time. */
export function pumpRows(
  timeMs: Float64Array,
  pressureBar: Float64Array,
  intervalS: number,
  noiseBar: number,
  quantumBar: number,
): PumpRows {
  const grain = pumpGrain(intervalS > 0 ? intervalS * 1000 : medianStepMs(timeMs), noiseBar, quantumBar);
  const rows = beginRows(grain, timeMs.length);
  for (let i = 0; i < timeMs.length; i++) {
    if (!Number.isNaN(pressureBar[i]!)) appendRow(rows, timeMs[i]!, pressureBar[i]!);
  }
  return rowsSoFar(rows);
}

export function medianStepMs(timeMs: Float64Array): number {
  const steps = new Float64Array(Math.max(0, Math.min(timeMs.length - 1, 10_000)));
  for (let i = 0; i < steps.length; i++) steps[i] = timeMs[i + 1]! - timeMs[i]!;
  return steps.length === 0 ? 1000 : median(steps);
}

/** The first of ascending times after an instant, in ms; their number where there is none. */
export function firstAfter(timeMs: Float64Array, atMs: number): number {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! <= atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

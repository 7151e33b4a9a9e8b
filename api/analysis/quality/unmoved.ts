import { gapLimitMs } from './gaps.ts';

/** A house sleeps and a street rests for a night, hardly for half a day to the last digit: common practice, no source. */
const LEAST_UNMOVED_MS = 12 * 3_600_000;
/** Of a shorter log all must be one reading, and for no less than this. */
const LEAST_WHOLE_MS = 3_600_000;

/** Readings that never moved, in epoch milliseconds, half open. */
export interface Unmoved {
  readonly startMs: number;
  readonly endMs: number;
  readonly bar: number;
}

/**
 * The longest run of usable readings that are equal to the last digit, where it is longer than a quiet main would make
 * likely: half a day, or a whole log of an hour or more. What moves elsewhere in the log is called stuck long before; of
 * a log that hardly moves at all nobody can say so from the readings. Gaps end a run.
 */
export function longestUnmoved(timeMs: Float64Array, usableBar: Float64Array, intervalMs: number): Unmoved | undefined {
  const gapMs = intervalMs + gapLimitMs(intervalMs);
  let longest: Unmoved | undefined;
  let startMs = Number.NaN;
  let lastMs = Number.NaN;
  let bar = Number.NaN;
  let moved = false;
  for (let i = 0; i < timeMs.length; i++) {
    const reading = usableBar[i]!;
    if (Number.isNaN(reading)) continue;
    const atMs = timeMs[i]!;
    if (reading !== bar || atMs - lastMs >= gapMs) {
      moved ||= !Number.isNaN(bar) && reading !== bar;
      startMs = atMs;
      bar = reading;
    }
    lastMs = atMs;
    const endMs = atMs + intervalMs;
    if (!longest || endMs - startMs > longest.endMs - longest.startMs) longest = { startMs, endMs, bar };
  }
  if (!longest) return undefined;
  return longest.endMs - longest.startMs >= (moved ? LEAST_UNMOVED_MS : LEAST_WHOLE_MS) ? longest : undefined;
}

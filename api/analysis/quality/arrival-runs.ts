/** Rows that swapped places on the way lie closer than this; a batch or a clock steps back further. */
const LARGEST_DISORDER_MS = 90_000;

/** Rows [from, to) in order of arrival whose stamps ascend without a gap, but for a little disorder. */
export interface ArrivalRun {
  readonly from: number;
  readonly to: number;
  /** Least and greatest stamp. */
  readonly firstMs: number;
  readonly lastMs: number;
}

/** Splits rows at every step of `gapMs` or more beyond the newest stamp, and at every step back of more than disorder. */
export function arrivalRuns(timeMs: Float64Array, gapMs: number): ArrivalRun[] {
  const runs: ArrivalRun[] = [];
  let from = 0;
  let first = timeMs[0]!;
  let newest = timeMs[0]!;
  for (let i = 1; i <= timeMs.length; i++) {
    const step = i < timeMs.length ? timeMs[i]! - newest : Number.NaN;
    if (step > -LARGEST_DISORDER_MS && step < gapMs) {
      newest = Math.max(newest, timeMs[i]!);
      first = Math.min(first, timeMs[i]!);
      continue;
    }
    runs.push({ from, to: i, firstMs: first, lastMs: newest });
    from = i;
    first = timeMs[i]!;
    newest = timeMs[i]!;
  }
  return runs;
}

/** True where no stamp repeats or steps back: the usual case, for which no row has to move. */
export function isAscending(timeMs: Float64Array): boolean {
  for (let i = 1; i < timeMs.length; i++) if (timeMs[i]! <= timeMs[i - 1]!) return false;
  return true;
}

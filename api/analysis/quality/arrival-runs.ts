/** The findings of one document reach over at most 400 days: stamps further apart aren't of one log. */
export const FARTHEST_MS = 400 * 86_400_000;

/** Rows [from, to) in order of arrival whose stamps ascend without a gap. */
export interface ArrivalRun {
  readonly from: number;
  readonly to: number;
  readonly firstMs: number;
  readonly lastMs: number;
}

export function rowsOf(run: ArrivalRun): number {
  return run.to - run.from;
}

/** Splits rows at every step of `gapMs` or more ahead, and wherever a stamp repeats or steps back. */
export function arrivalRuns(timeMs: Float64Array, gapMs: number): ArrivalRun[] {
  const runs: ArrivalRun[] = [];
  let from = 0;
  for (let i = 1; i <= timeMs.length; i++) {
    const step = i < timeMs.length ? timeMs[i]! - timeMs[i - 1]! : Number.NaN;
    if (step > 0 && step < gapMs) continue;
    runs.push({ from, to: i, firstMs: timeMs[from]!, lastMs: timeMs[i - 1]! });
    from = i;
  }
  return runs;
}

/** True where a stamp comes after the one before it, and not years after it. */
export function followsOn(beforeMs: number, atMs: number): boolean {
  return atMs > beforeMs && atMs - beforeMs <= FARTHEST_MS;
}

/** True where every stamp follows on from the one before it: the usual case, for which no row has to move. */
export function isInOrder(timeMs: Float64Array): boolean {
  for (let i = 1; i < timeMs.length; i++) if (!followsOn(timeMs[i - 1]!, timeMs[i]!)) return false;
  return true;
}

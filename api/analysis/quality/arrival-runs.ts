/** Rows [from, to) in order of arrival whose stamps ascend without a step back and without a gap. */
export interface ArrivalRun {
  readonly from: number;
  readonly to: number;
  readonly firstMs: number;
  readonly lastMs: number;
}

/** Splits rows at every step back in time and at every step forward of `gapMs` or more. Equal stamps stay together. */
export function arrivalRuns(timeMs: Float64Array, gapMs: number): ArrivalRun[] {
  const runs: ArrivalRun[] = [];
  let from = 0;
  for (let i = 1; i <= timeMs.length; i++) {
    const step = i < timeMs.length ? timeMs[i]! - timeMs[i - 1]! : Number.NaN;
    if (step >= 0 && step < gapMs) continue;
    runs.push({ from, to: i, firstMs: timeMs[from]!, lastMs: timeMs[i - 1]! });
    from = i;
  }
  return runs;
}

/** True where no stamp repeats or steps back: the usual case, for which no row has to move. */
export function isAscending(timeMs: Float64Array): boolean {
  for (let i = 1; i < timeMs.length; i++) if (timeMs[i]! <= timeMs[i - 1]!) return false;
  return true;
}

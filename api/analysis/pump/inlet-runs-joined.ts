import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** A pump seldom runs for longer at a stretch: what comes later is the street's, or another run's. Common practice, no source. */
const LONGEST_MS = 1_800_000;
/** A rise by this part of the least pull within so long is a tap's that closes, not the street's: that takes minutes. */
const FAST_SHARE = 0.7;
const CLOSES_MS = 20_000;

/**
 * Runs seen at the inlet, joined where the pump had gone on between them. One that gives less for a while lets its inlet rise
 * by most of the pull, and only its stop takes it back to where it stood: a fast rise to that level, from a level that a clear
 * pull is missing, ends the run that began there, and what looked like runs in between was it. Linear time.
 * @param least the least pull that shows a run, in bar
 */
export function joinedInletRuns(rows: PumpRows, runs: readonly PumpRun[], least: number): PumpRun[] {
  const back = Math.ceil(CLOSES_MS / rows.intervalMs);
  const joined: PumpRun[] = [];
  for (let k = 0; k < runs.length; k++) {
    const run = runs[k]!;
    const stop = lastStop(rows, run, least, back);
    if (stop === undefined) {
      joined.push(run);
      continue;
    }
    joined.push({ ...run, stopMs: rows.timeMs[stop]!, stopRow: stop });
    while (k + 1 < runs.length && runs[k + 1]!.startRow <= stop) k++;
  }
  return joined;
}

/** The row at which a run's inlet came back to where it had stood, if that was later than its first recovery. */
function lastStop({ calmBar, timeMs, stretchFrom }: PumpRows, run: PumpRun, least: number, back: number) {
  const { startRow, startMs, stopRow } = run;
  if (stopRow === undefined || startRow < 1) return undefined;
  const end = stretchFrom.find((row) => row > startRow) ?? timeMs.length;
  const levelBar = calmBar[startRow - 1]! - least;
  for (let row = stopRow; row < end && timeMs[row]! - startMs <= LONGEST_MS; row++) {
    if (calmBar[row]! < levelBar) continue;
    // Back at once, as nearly every run is; or back by and by, with the street.
    const isLater = row > stopRow + back;
    return isLater && calmBar[row]! - calmBar[row - back]! >= FAST_SHARE * least ? row : undefined;
  }
  return undefined;
}

import { recoveredBar } from './inlet-recovery.ts';
import { joinedInletRuns } from './inlet-runs-joined.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** The least pull on the inlet that shows a run. */
const LEAST_PULL_BAR = 0.06;
/** A pump pulls within seconds; the street takes minutes. */
const PULL_LONGEST_MS = 6_000;
/** A pull that lasts longer is taken for the street's own change, and the idle level is sought anew. */
const RUN_LONGEST_MS = 3 * 3_600_000;
/** The idle level follows the street with this time constant. */
const IDLE_FOLLOWS_MS = 60_000;

/**
 * A pump's runs from the pressure before it, where no channel tells them: a fast fall that stays until the pressure has
 * recovered. Only for judging the inlet while it runs; such runs aren't reported as starts. Linear time.
 */
export function inletRuns(rows: PumpRows): PumpRun[] {
  const runs: PumpRun[] = [];
  const least = Math.max(LEAST_PULL_BAR, 5 * rows.calmNoiseBar, 2 * rows.quantumBar);
  const back = Math.max(1, Math.min(3, Math.ceil(PULL_LONGEST_MS / rows.intervalMs)));
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    const from = rows.stretchFrom[s]!;
    const to = rows.stretchFrom[s + 1]!;
    let idle = rows.calmBar[from]!;
    let startRow = -1;
    let lowest = 0;
    let idleThen = 0;
    const followed = (bar: number, forMs: number) => idle + (bar - idle) * Math.min(1, forMs / IDLE_FOLLOWS_MS);
    for (let i = from + 1; i < to; i++) {
      const bar = rows.calmBar[i]!;
      if (startRow < 0) {
        const before = rows.calmBar[Math.max(from, i - back)]!;
        if (idle - bar >= least && before - bar >= 0.7 * least) {
          startRow = i;
          while (startRow > from + 1 && i - startRow < back && idle - rows.calmBar[startRow - 1]! >= 0.5 * least) {
            startRow--;
          }
          lowest = bar;
          idleThen = idle;
        } else idle = followed(bar, rows.timeMs[i]! - rows.timeMs[i - 1]!);
        continue;
      }
      lowest = Math.min(lowest, bar);
      const sinceMs = rows.timeMs[i]! - rows.timeMs[startRow]!;
      const tooLong = sinceMs > RUN_LONGEST_MS;
      if (bar >= recoveredBar(idleThen, lowest, sinceMs, rows.calmNoiseBar) || tooLong) {
        if (!tooLong) {
          runs.push({ startMs: rows.timeMs[startRow]!, startRow, stopMs: rows.timeMs[i]!, stopRow: i });
        }
        startRow = -1;
        // One reading after a short run says less of the street than those before it.
        idle = tooLong ? bar : followed(bar, sinceMs);
      }
    }
    if (startRow >= 0) {
      runs.push({
        startMs: rows.timeMs[startRow]!,
        startRow,
        stopMs: rows.timeMs[to - 1]! + rows.intervalMs,
        stopRow: to - 1,
      });
    }
  }
  return joinedInletRuns(rows, runs, least);
}

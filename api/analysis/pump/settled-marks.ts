import { markDemand, type RestHabits } from './demand.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/**
 * No demand mark rests on what lies further off: rests are compared with those of four hours about them, three times, and
 * those with the steady outflow of two hours about them.
 */
const MARK_REACH_MS = 16 * 3_600_000;
/** What was said of so long before a log's end may be said anew: readings that weren't judged yet, a slower channel's. */
const OPEN_END_MS = 3_600_000;

/** Marks made before, while a log grows. */
export interface MarkMemory {
  runs: readonly PumpRun[];
  marked: readonly PumpRun[];
  endMs: number;
}

export function noMarks(): MarkMemory {
  return { runs: [], marked: [], endMs: Number.NEGATIVE_INFINITY };
}

/**
 * All runs with their demand marks as `markDemand` makes them, those of before taken from memory where nothing that they
 * rest on can have changed: the same runs, far enough before the end that was. Rows that were there stay as they were but
 * for the last hour's.
 */
export function markOn(
  memory: MarkMemory,
  rows: PumpRows,
  runs: readonly PumpRun[],
  flow: { readonly timeMs: Float64Array; readonly lpm: Float64Array } | undefined,
  habits: RestHabits,
): readonly PumpRun[] {
  const settled = settledRuns(memory, runs);
  const next = runs[settled];
  let first = settled;
  while (next && first > 0 && runs[first - 1]!.startMs >= next.startMs - MARK_REACH_MS) first--;
  const fresh = markDemand(rows, runs, flow, habits, first);
  const marked = [...memory.marked.slice(0, settled), ...fresh.slice(settled - first)];
  memory.runs = runs;
  memory.marked = marked;
  memory.endMs = rows.timeMs[rows.timeMs.length - 1] ?? Number.NEGATIVE_INFINITY;
  return marked;
}

function settledRuns({ runs: before, endMs }: MarkMemory, runs: readonly PumpRun[]): number {
  let same = 0;
  while (same < before.length && same < runs.length && isSameRun(before[same]!, runs[same]!)) same++;
  const untilMs = Math.min(endMs - OPEN_END_MS, before[same]?.startMs ?? endMs, runs[same]?.startMs ?? endMs);
  let settled = same;
  while (settled > 0 && runs[settled - 1]!.startMs > untilMs - MARK_REACH_MS) settled--;
  return settled;
}

/** Whether two runs are the same, their marks left out. */
export function isSameRun(a: PumpRun, b: PumpRun): boolean {
  return (
    a.startMs === b.startMs &&
    a.startRow === b.startRow &&
    a.stopMs === b.stopMs &&
    a.stopRow === b.stopRow &&
    a.cutInBar === b.cutInBar &&
    a.cutOutBar === b.cutOutBar
  );
}

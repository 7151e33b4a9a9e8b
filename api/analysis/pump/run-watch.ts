import { appendRow, beginRows, comesAfterGap, type GrowingRows, reopenRows, rowsSoFar } from './growing-rows.ts';
import { beginRuns, endStretch, keptSearch, type RunSearch, runsAt } from './outlet-runs.ts';
import type { PumpGrain } from './pump-grain.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import type { SwitchLevelsSpan } from './switch-levels.ts';

/** A search for runs over readings that arrive. Only the functions below look inside. */
export interface RunWatch {
  readonly rows: GrowingRows;
  readonly search: RunSearch;
  /** Rows before this one have been searched. */
  searched: number;
}

/** Usable rows and the runs that their pressure shows. */
export interface SeenRuns {
  readonly rows: PumpRows;
  readonly runs: readonly PumpRun[];
}

/** Begins to watch; `rowsExpected` only saves copying. */
export function beginRunWatch(grain: PumpGrain, levels: readonly SwitchLevelsSpan[], rowsExpected = 0): RunWatch {
  return { rows: beginRows(grain, rowsExpected), search: beginRuns(grain, levels), searched: 0 };
}

/** Takes in readings, NaN where there is none; they follow those before. Time in proportion to their number. */
export function watchRuns(watch: RunWatch, timeMs: Float64Array, pressureBar: Float64Array): void {
  const { rows, search } = watch;
  for (let i = 0; i < timeMs.length; i++) {
    const bar = pressureBar[i]!;
    if (Number.isNaN(bar)) continue;
    if (comesAfterGap(rows, timeMs[i]!)) closeStretch(watch);
    appendRow(rows, timeMs[i]!, bar);
    for (; watch.searched < rows.settled; watch.searched++) runsAt(search, rows, watch.searched);
  }
}

/** All runs if the log ended here. The watch is spent. */
export function endRunWatch(watch: RunWatch): SeenRuns {
  closeStretch(watch);
  return { rows: rowsSoFar(watch.rows), runs: watch.search.runs };
}

/**
 * All runs if the log ended after some more readings, which may yet turn out to be others: the watch stands where it
 * stood afterwards. The rows given are views that hold until it is stepped on.
 */
export function runsAsOfNow<T>(
  watch: RunWatch,
  openMs: Float64Array,
  openBar: Float64Array,
  use: (seen: SeenRuns) => T,
): T {
  const { rows, search } = watch;
  const before = {
    search: keptSearch(search),
    runs: search.runs.length,
    lastRun: search.runs[search.runs.length - 1],
    count: rows.count,
    settled: rows.settled,
    stretches: rows.stretchFrom.length,
    searched: watch.searched,
  };
  try {
    watchRuns(watch, openMs, openBar);
    return use(endRunWatch(watch));
  } finally {
    Object.assign(search, before.search);
    search.runs.length = before.runs;
    if (before.lastRun) search.runs[before.runs - 1] = before.lastRun;
    reopenRows(rows, before.count, before.settled, before.stretches);
    watch.searched = before.searched;
  }
}

/** The last rows of a stretch settle with its end. */
function closeStretch(watch: RunWatch): void {
  const { rows, search } = watch;
  for (; watch.searched < rows.count; watch.searched++) runsAt(search, rows, watch.searched);
  endStretch(search, rows, rows.count);
}

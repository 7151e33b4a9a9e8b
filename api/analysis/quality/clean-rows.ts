import type { CleanedLog, CleaningParameters } from './cleaning-parameters.ts';
import type { MarkedFault } from './marked-fault.ts';
import { markOutOfRange } from './out-of-range.ts';
import { ABOVE_ALL_MS, markSpikes } from './spikes.ts';
import { markRunsOf } from './stuck.ts';

/** Rows beyond a reading that its judgement looks at, in time and at least; the same before it. */
const LOOK_MS = ABOVE_ALL_MS;
const LOOK_ROWS = 10;

/**
 * Cleaned readings of ordered rows, which grow at the end. Rows before `settled` are judged for good; those after it
 * are judged by what has come so far.
 */
export interface CleanRows {
  readonly parameters: CleaningParameters;
  /** NaN where a reading isn't used. */
  bar: Float64Array;
  count: number;
  settled: number;
  readonly settledFaults: MarkedFault[];
  openFaults: readonly MarkedFault[];
}

export function beginCleaning(parameters: CleaningParameters): CleanRows {
  return { parameters, bar: new Float64Array(), count: 0, settled: 0, settledFaults: [], openFaults: [] };
}

/**
 * Judges all rows from the first one that isn't settled on, and settles what no later row can change.
 * @param timeMs stamps of all rows so far, ascending
 * @param readBar their readings as they came
 */
export function cleanOn(rows: CleanRows, timeMs: Float64Array, readBar: Float64Array): void {
  const count = timeMs.length;
  if (count === rows.count) return;
  if (rows.bar.length < count) {
    const larger = new Float64Array(rows.count === 0 ? count : Math.ceil(1.5 * count));
    larger.set(rows.bar.subarray(0, rows.settled));
    rows.bar = larger;
  }
  const { intervalS, noiseBar, quantumBar, ordinaryBar, leastStuckRows, rangeBar, lowestBar } = rows.parameters;
  const intervalMs = intervalS * 1000;
  const { settled, bar } = rows;
  bar.set(readBar.subarray(settled), settled);
  const from = reachedBack(timeMs, settled);
  const times = timeMs.subarray(from);
  const part = bar.subarray(from, count);
  const faults = [
    ...markOutOfRange(times, part, rangeBar, intervalMs, settled - from, lowestBar),
    ...markSpikes(times, part, noiseBar, quantumBar, intervalMs, ordinaryBar, settled - from),
    ...markRunsOf(leastStuckRows, times, part, intervalMs, settled - from),
  ];
  settleUpTo(rows, timeMs, readBar, faults);
}

/** A log that was cleaned while its parameters were estimated, as if it had been cleaned under them since. */
export function cleanedSoFar(
  { parameters, pressureBar, faults }: CleanedLog,
  timeMs: Float64Array,
  readBar: Float64Array,
): CleanRows {
  const rows: CleanRows = { ...beginCleaning(parameters), bar: pressureBar };
  settleUpTo(rows, timeMs, readBar, faults);
  return rows;
}

function settleUpTo(
  rows: CleanRows,
  timeMs: Float64Array,
  readBar: Float64Array,
  faults: readonly MarkedFault[],
): void {
  rows.count = timeMs.length;
  rows.settled = settledUpTo(rows, timeMs, readBar);
  const until = rows.settled < rows.count ? timeMs[rows.settled]! : Number.POSITIVE_INFINITY;
  for (const fault of faults) if (fault.startMs < until) rows.settledFaults.push(fault);
  rows.openFaults = faults.filter((fault) => fault.startMs >= until);
}

/**
 * Forgets the judgements from a row on.
 * @param timeMs the stamps under which they were made
 */
export function unsettleFrom(rows: CleanRows, row: number, timeMs: Float64Array): void {
  rows.count = 0;
  if (row >= rows.settled) return;
  const until = timeMs[row]!;
  const kept = rows.settledFaults.filter((fault) => fault.startMs < until);
  rows.settledFaults.splice(0, rows.settledFaults.length, ...kept);
  rows.settled = row;
}

function reachedBack(timeMs: Float64Array, row: number): number {
  let from = row;
  while (from > 0 && (row - from < LOOK_ROWS || timeMs[row]! - timeMs[from]! <= LOOK_MS)) from--;
  return from;
}

/** A fault is settled whole, and so is a run of equal readings that may yet turn out to be stuck. */
function settledUpTo(
  { bar, count, settled, parameters }: CleanRows,
  timeMs: Float64Array,
  readBar: Float64Array,
): number {
  let row = count - LOOK_ROWS;
  while (row > settled && timeMs[count - 1]! - timeMs[row]! <= LOOK_MS) row--;
  const marked = (at: number) => Number.isNaN(bar[at]!) && !Number.isNaN(readBar[at]!);
  while (row > settled && marked(row - 1)) row--;
  if (parameters.leastStuckRows < Number.POSITIVE_INFINITY) {
    while (row > settled && (readBar[row - 1] === readBar[row] || marked(row - 1))) row--;
  }
  return Math.max(row, settled);
}

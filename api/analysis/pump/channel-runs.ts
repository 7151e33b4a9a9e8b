import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/**
 * A pump's runs from its own on/off channel. A start is the first row that says on after one that says off, without a
 * gap between; a run cut by a gap or the log's end has no stop.
 */
export function channelRuns(
  timeMs: Float64Array,
  pumpOn: Float64Array,
  rows: PumpRows,
  hasOutletPressure: boolean,
): PumpRun[] {
  const longestStepMs = Math.max(3.5 * rows.intervalMs, 10_000);
  const runs: PumpRun[] = [];
  let wasOn: boolean | undefined;
  let lastMs = Number.NEGATIVE_INFINITY;
  let row = 0;
  let open = false;
  for (let i = 0; i < timeMs.length; i++) {
    const value = pumpOn[i]!;
    if (Number.isNaN(value)) continue;
    const atMs = timeMs[i]!;
    const on = value >= 0.5;
    if (atMs - lastMs > longestStepMs) {
      wasOn = undefined;
      open = false;
    }
    while (row + 1 < rows.timeMs.length && rows.timeMs[row + 1]! <= atMs) row++;
    if (on && wasOn === false) {
      const pressure = hasOutletPressure ? pressureAt(rows, row, atMs) : undefined;
      runs.push({ startMs: atMs, startRow: row, ...(pressure === undefined ? {} : { cutInBar: pressure }) });
      open = true;
    } else if (!on && wasOn && open) {
      const pressure = hasOutletPressure ? pressureAt(rows, row, atMs) : undefined;
      runs[runs.length - 1] = {
        ...runs[runs.length - 1]!,
        stopMs: atMs,
        stopRow: row,
        ...(pressure === undefined ? {} : { cutOutBar: pressure }),
      };
      open = false;
    }
    wasOn = on;
    lastMs = atMs;
  }
  return runs;
}

function pressureAt(rows: PumpRows, row: number, atMs: number): number | undefined {
  const time = rows.timeMs[row];
  return time !== undefined && Math.abs(time - atMs) <= rows.intervalMs ? rows.bar[row] : undefined;
}

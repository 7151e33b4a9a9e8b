import { longestChannelStepMs } from './channel-spells.ts';
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
  const longestStepMs = longestChannelStepMs(rows.intervalMs);
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
      const turn = hasOutletPressure ? outermostRow(rows, row, atMs, -1) : undefined;
      runs.push({
        startMs: atMs,
        startRow: turn ?? row,
        ...(turn === undefined ? {} : { cutInBar: rows.calmBar[turn]! }),
      });
      open = true;
    } else if (!on && wasOn && open) {
      const turn = hasOutletPressure ? outermostRow(rows, row, atMs, 1) : undefined;
      runs[runs.length - 1] = {
        ...runs[runs.length - 1]!,
        stopMs: atMs,
        stopRow: turn ?? row,
        ...(turn === undefined ? {} : { cutOutBar: rows.calmBar[turn]! }),
      };
      open = false;
    }
    wasOn = on;
    lastMs = atMs;
  }
  return runs;
}

/** The row of the lowest or highest calm reading about a switching: the channel's own row seldom catches the turn. */
export function outermostRow(rows: PumpRows, row: number, atMs: number, direction: 1 | -1): number | undefined {
  const time = rows.timeMs[row];
  if (time === undefined || Math.abs(time - atMs) > rows.intervalMs) return undefined;
  let found = row;
  for (const near of [row - 1, row + 1]) {
    const nearMs = rows.timeMs[near];
    if (nearMs === undefined || Math.abs(nearMs - atMs) > 1.5 * rows.intervalMs) continue;
    if (direction * rows.calmBar[near]! > direction * rows.calmBar[found]!) found = near;
  }
  return found;
}

/** Up to this interval the pressure shows an off time that falls between two rows of the channel. */
const SPLIT_LONGEST_MS = 2_000;
/** A run that only the pressure shows counts if the channel is off for so many intervals about it. */
const ALONE_INTERVALS = 1.6;

/**
 * Adds to a coarse channel's runs those that only the pressure shows: a run shorter than the interval falls between
 * two rows of the channel, but the water it brought stays. Where both show one, the channel gives the times and the
 * pressure the turns.
 */
export function withShortRuns(channel: readonly PumpRun[], shown: readonly PumpRun[], rows: PumpRows): PumpRun[] {
  const nearMs = ALONE_INTERVALS * rows.intervalMs;
  const merged = [...channel];
  let k = 0;
  let before: PumpRun | undefined;
  for (const run of shown) {
    while (k < channel.length && (channel[k]!.stopMs ?? channel[k]!.startMs) < run.startMs - nearMs) k++;
    const known = channel[k];
    const stopped = before;
    before = run;
    if (known && stopped && splits(known, stopped, run, rows)) {
      merged.push(run);
      const whole = merged[k]!;
      if (whole.stopMs !== undefined && whole.stopMs > stopped.stopMs!) {
        merged[k] = { ...whole, stopMs: stopped.stopMs!, stopRow: stopped.stopRow! };
      }
      continue;
    }
    // One that lasts into the channel's own run is that run, seen a little early.
    if (!known || known.startMs > Math.max(run.startMs + nearMs, run.stopMs ?? run.startMs)) merged.push(run);
    else if (Math.abs(known.startMs - run.startMs) <= 1.5 * rows.intervalMs) {
      const { startMs: _start, stopMs: _stop, ...turns } = run;
      merged[k] = { ...known, ...turns };
    }
  }
  return merged.sort((a, b) => a.startMs - b.startMs);
}

/**
 * Whether the pressure went up to cut-out and down to cut-in again within what the channel takes for one run: the pump was
 * off for less than an interval then.
 */
function splits(known: PumpRun, stopped: PumpRun, run: PumpRun, rows: PumpRows): boolean {
  if (rows.intervalMs > SPLIT_LONGEST_MS || stopped.stopMs === undefined || stopped.stopRow === undefined) return false;
  const nearMs = 1.5 * rows.intervalMs;
  return (
    stopped.stopMs > known.startMs &&
    run.startMs > known.startMs + nearMs &&
    run.startMs < (known.stopMs ?? Number.POSITIVE_INFINITY) - rows.intervalMs / 2
  );
}

import { quantileOfSorted, sortedFinite } from '../statistics/quantile.ts';
import type { MarkedFault } from './marked-fault.ts';

/** Rows a spike lasts at most: a draw has at least three. */
const LONGEST_SPIKE_ROWS = 2;
/** How far a spike stands out of both neighbours, in noise deviations and in bar, whichever is more. */
const SPIKE_NOISE_FACTOR = 8;
const LEAST_SPIKE_BAR = 0.2;

/** At slower rates one low row may be a short draw, so that only a reading above both neighbours is surely a spike. */
const SLOWEST_TELLING_DOWN_MS = 2_500;

/** At slower rates one row may be the pause between two draws: only what stands above all of this time is a spike. */
export const ABOVE_ALL_MS = 900_000;
/** Rows before a spike that must not have stepped themselves: a closing valve rings for a few seconds. */
const RINGING_ROWS = 3;
const RINGING_STEP_BAR = 0.05;

/** Rows averaged on both sides to see whether a tap was turned, and the least step that says so. */
const HAMMER_ROWS = 4;
const LEAST_HAMMER_STEP_BAR = 0.02;
const HAMMER_DEVIATIONS = 4;

/** Share of the readings that a plant reaches on either side in its ordinary work; spikes are far rarer. */
const ORDINARY_SHARE = 0.0002;
/** How far below the ordinary span, as a part of it, a spike down must reach. */
const DOWN_OUT_SHARE = 0.5;
/** Readings sorted for the ordinary span: every n-th of a long log gives the same span. */
const MOST_ROWS_SORTED = 200_000;

/**
 * The span of a log's own pressures. Beside a pump one or two readings may stand out of their neighbours at every
 * start, stop and tap: there only what leaves this span is a spike.
 */
export function ordinarySpan(pressureBar: Float64Array): readonly [number, number] {
  const step = Math.max(1, Math.ceil(pressureBar.length / MOST_ROWS_SORTED));
  const sorted = sortedFinite(step === 1 ? pressureBar : pressureBar.filter((_, i) => i % step === 0));
  return [quantileOfSorted(sorted, ORDINARY_SHARE), quantileOfSorted(sorted, 1 - ORDINARY_SHARE)];
}

/**
 * Marks single readings (or two) that stand out of both neighbours by far and return to where they were, by setting
 * them to NaN. One fault a spike, with end = start. With an `ordinary` span only what leaves it by as much counts.
 * @param first row from which to mark; those before it are judged
 */
export function markSpikes(
  timeMs: Float64Array,
  pressureBar: Float64Array,
  noiseBar: number,
  quantumBar: number,
  intervalMs: number,
  ordinary?: readonly [number, number],
  first = 0,
): MarkedFault[] {
  const out = Math.max(SPIKE_NOISE_FACTOR * noiseBar, LEAST_SPIKE_BAR, 4 * quantumBar);
  const faults: MarkedFault[] = [];
  for (let i = Math.max(1, first); i + 1 < timeMs.length; i++) {
    const before = pressureBar[i - 1]!;
    const rise = pressureBar[i]! - before;
    if (!(Math.abs(rise) > out) || (rise < 0 && intervalMs > SLOWEST_TELLING_DOWN_MS)) continue;
    if (ordinary && !leavesOrdinary(pressureBar[i]!, ordinary, out)) continue;
    for (let rows = 1; rows <= LONGEST_SPIKE_ROWS && i + rows < timeMs.length; rows++) {
      const after = pressureBar[i + rows]!;
      const last = pressureBar[i + rows - 1]!;
      if (timeMs[i + rows]! - timeMs[i - 1]! > (rows + 2.5) * intervalMs) break;
      // A fall of two rows could be a tap that was only just opened: a spike down lasts one row.
      if (rows > 1 && rise < 0) break;
      if (!(Math.abs(last - before) > out && Math.sign(last - before) === Math.sign(rise))) break;
      if (!(Math.abs(after - before) < Math.max(0.15 * Math.abs(rise), 3 * noiseBar + quantumBar))) continue;
      if (intervalMs > SLOWEST_TELLING_DOWN_MS) {
        if (!standsAboveAll(timeMs, pressureBar, i, rows, 0.5 * out)) break;
      } else if (!ordinary && (isRinging(pressureBar, i, noiseBar) || isHammer(pressureBar, i, rows, noiseBar))) break;
      for (let m = i; m < i + rows; m++) pressureBar[m] = Number.NaN;
      faults.push({ kind: 'spike', startMs: timeMs[i]!, endMs: timeMs[i]!, count: rows });
      i += rows;
      break;
    }
  }
  return faults;
}

function standsAboveAll(timeMs: Float64Array, pressureBar: Float64Array, i: number, rows: number, by: number): boolean {
  const limit = Math.min(pressureBar[i]!, pressureBar[i + rows - 1]!) - by;
  for (let k = i - 1; k >= 0 && timeMs[i]! - timeMs[k]! <= ABOVE_ALL_MS; k--) if (pressureBar[k]! > limit) return false;
  for (let k = i + rows; k < timeMs.length && timeMs[k]! - timeMs[i]! <= ABOVE_ALL_MS; k++) {
    if (pressureBar[k]! > limit) return false;
  }
  return true;
}

/** True within a few rows of a sharp step: what swings about the new level then is the pipe. */
function isRinging(pressureBar: Float64Array, i: number, noiseBar: number): boolean {
  const step = Math.max(RINGING_STEP_BAR, 6 * noiseBar);
  for (let k = Math.max(0, i - 1 - RINGING_ROWS); k < i - 1; k++) {
    if (Math.abs(pressureBar[k]! - pressureBar[i - 1]!) > step) return true;
  }
  return false;
}

/**
 * True where the level after a reading lies on its side of the level before: a tap was shut or opened, and the first
 * reading after it is the hammer of the water. Rows next to it are left out, they still swing.
 */
function isHammer(pressureBar: Float64Array, i: number, rows: number, noiseBar: number): boolean {
  const before = meanOf(pressureBar, i - HAMMER_ROWS, i);
  const after = meanOf(pressureBar, i + rows + 2, i + rows + 2 + HAMMER_ROWS);
  const step = Math.max(LEAST_HAMMER_STEP_BAR, HAMMER_DEVIATIONS * noiseBar * Math.sqrt(2 / HAMMER_ROWS));
  return (after - before) * Math.sign(pressureBar[i]! - pressureBar[i - 1]!) > step;
}

/** NaN where no row is usable. */
function meanOf(pressureBar: Float64Array, from: number, to: number): number {
  const usable = pressureBar.subarray(Math.max(0, from), to).filter((bar) => !Number.isNaN(bar));
  return usable.reduce((sum, bar) => sum + bar, 0) / usable.length;
}

/** Without a vessel a tap pulls the pressure down for a reading before the pump lifts it: downwards more is asked. */
function leavesOrdinary(bar: number, [low, high]: readonly [number, number], out: number): boolean {
  return bar >= high + out || bar <= low - Math.max(out, DOWN_OUT_SHARE * (high - low));
}

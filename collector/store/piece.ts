import type { SentRun } from '../model/series.ts';
import { type HourNumber, hourOf, startOfHourMs } from './hours.ts';
import { sliceRun } from './merge-runs.ts';
import type { Piece } from './port.ts';

/** Times and values are checked where messages are read; what slips through here would be a fault of this program. */
export function refuseUnstorable(piece: Piece): void {
  const { timeMs, value, flags } = piece;
  if (value.length !== timeMs.length || (flags && flags.length !== timeMs.length)) {
    throw new TypeError(`columns of different lengths in a piece of ${piece.loggerId}`);
  }
  for (let i = 0; i < timeMs.length; i++) {
    if (!Number.isSafeInteger(timeMs[i]) || timeMs[i]! < 0) {
      throw new TypeError(`time ${timeMs[i]} of ${piece.loggerId} is no whole number of milliseconds since 1970`);
    }
    if (!Number.isFinite(value[i])) throw new TypeError(`value ${value[i]} of ${piece.loggerId} is not finite`);
  }
}

/** The piece's samples with minus nought as nought, and without flags where none is set. */
export function canonicalRun(piece: Piece): SentRun {
  const value = piece.value.some((reading) => Object.is(reading, -0)) ? piece.value.map((v) => v + 0) : piece.value;
  const flags = piece.flags?.some((bits) => bits !== 0) ? piece.flags : undefined;
  return { unit: piece.unit, timeMs: piece.timeMs, value, flags };
}

/** Whether times ascend strictly and all lie after `afterMs`. */
export function ascendsFrom(timeMs: Float64Array, afterMs: number): boolean {
  let before = afterMs;
  for (let i = 0; i < timeMs.length; i++) {
    const atMs = timeMs[i]!;
    if (atMs <= before) return false;
    before = atMs;
  }
  return true;
}

/** One run of each UTC hour: a sample on the hour belongs to the hour it begins. Times ascend. */
export function splitByHour(run: SentRun): { hour: HourNumber; run: SentRun }[] {
  const parts: { hour: HourNumber; run: SentRun }[] = [];
  const { timeMs } = run;
  let from = 0;
  while (from < timeMs.length) {
    const hour = hourOf(timeMs[from]!);
    const endMs = startOfHourMs(hour + 1);
    let to = from + 1;
    if (timeMs.at(-1)! < endMs) to = timeMs.length;
    else while (to < timeMs.length && timeMs[to]! < endMs) to++;
    parts.push({ hour, run: from === 0 && to === timeMs.length ? run : sliceRun(run, from, to) });
    from = to;
  }
  return parts;
}

/** Sorts a piece by time; of equal times the first in the piece stays, the others are counted. */
export function sortPiece(run: SentRun): { run: SentRun; duplicate: number; conflict: number } {
  if (ascendsFrom(run.timeMs, Number.NEGATIVE_INFINITY)) return { run, duplicate: 0, conflict: 0 };
  const order = Array.from(run.timeMs.keys()).sort((a, b) => run.timeMs[a]! - run.timeMs[b]! || a - b);
  const kept: number[] = [];
  let duplicate = 0;
  let conflict = 0;
  for (const index of order) {
    const before = kept.at(-1);
    if (before === undefined || run.timeMs[before] !== run.timeMs[index]) kept.push(index);
    else if (run.value[before] === run.value[index]) duplicate++;
    else conflict++;
  }
  return { run: pick(run, kept), duplicate, conflict };
}

/** The samples whose times aren't there yet. The same value in another unit is another reading, so a conflict. */
export function withoutKnown(
  run: SentRun,
  there: readonly SentRun[],
): { run: SentRun; duplicate: number; conflict: number } {
  const kept: number[] = [];
  let duplicate = 0;
  let conflict = 0;
  let runIndex = 0;
  let at = 0;
  for (let i = 0; i < run.timeMs.length; i++) {
    const atMs = run.timeMs[i]!;
    while (runIndex < there.length && there[runIndex]!.timeMs[at]! < atMs) {
      at++;
      if (at === there[runIndex]!.timeMs.length) {
        runIndex++;
        at = 0;
      }
    }
    const other = there[runIndex];
    if (!other || other.timeMs[at] !== atMs) kept.push(i);
    else if (other.value[at] === run.value[i] && other.unit === run.unit) duplicate++;
    else conflict++;
  }
  return { run: kept.length === run.timeMs.length ? run : pick(run, kept), duplicate, conflict };
}

function pick(run: SentRun, indices: readonly number[]): SentRun {
  return {
    unit: run.unit,
    timeMs: Float64Array.from(indices, (i) => run.timeMs[i]!),
    value: Float64Array.from(indices, (i) => run.value[i]!),
    flags: run.flags && Uint8Array.from(indices, (i) => run.flags![i]!),
  };
}

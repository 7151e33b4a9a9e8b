import { type ArrivalRun, rowsOf } from './arrival-runs.ts';
import type { MarkedFault } from './marked-fault.ts';
import { cameLive, fillOf, type Overlap, overlapWith, type RowsTaken } from './rows-taken.ts';

/** A clock that was set right again agrees with the time that went by to within this share of it. */
const CLOCK_RATE_TOLERANCE = 0.002;
/** A second delivery has the readings of the first; this share of them allows for a conflict or two. */
const SAME_AGAIN_SHARE = 0.95;
/** On a quiet main with a coarse converter other readings are equal too: few values tell nothing of a second delivery. */
const FEWEST_VALUES_THAT_TELL = 4;
/** Fewer rows than this with other values at old stamps are repeats, not a clock that went back. */
export const FEWEST_ROWS_OF_A_WRONG_CLOCK = 3;
/**
 * What stood longer at another time isn't left out: clocks that go wrong are set right within days, and a log that keeps
 * local time comes back to itself after months.
 */
export const LONGEST_WRONG_MS = 7 * 86_400_000;

/** The runs that arrive after the one that is judged, in order. */
export type Coming = (index: number) => ArrivalRun | undefined;

export interface ClockLimits {
  readonly intervalMs: number;
  readonly gapMs: number;
}

/** A stretch under a wrong clock: what is left out, the fault it makes, and the time that it took. */
export interface WrongClock {
  /** How long the clock stood wrong. */
  readonly lastedMs: number;
  /** How far its return is from where the time that went by leads; infinite where that isn't how it was told. */
  readonly offMs: number;
  readonly fault: MarkedFault;
  /** When the samples were taken that came under the wrong clock; undefined where that isn't known. */
  readonly explained: { readonly fromMs: number; readonly toMs: number } | undefined;
}

export interface ClockAhead extends WrongClock {
  /** Index of the first taken run that came under it. */
  readonly index: number;
}

export interface ClockBehind extends WrongClock {
  /** How many of the coming runs are under it too. */
  readonly more: number;
}

/** Surely the same rows once more. */
export function isSentAgain({ value }: RowsTaken, run: ArrivalRun, overlap: Overlap): boolean {
  return isSameAgain(run, overlap) && !isUneventful(value, run);
}

/** Rows in time that others have, with other readings than these: one of the two had a wrong clock. */
export function isConflict({ equal, covered }: Overlap): boolean {
  return covered - equal >= FEWEST_ROWS_OF_A_WRONG_CLOCK && equal < SAME_AGAIN_SHARE * covered;
}

/** Equal readings at known stamps, too few values to tell whether they are the same rows: only a return to the row does. */
export function mayBeAnything({ value }: RowsTaken, run: ArrivalRun, overlap: Overlap): boolean {
  return isSameAgain(run, overlap) && isUneventful(value, run);
}

function isSameAgain(run: ArrivalRun, { known, equal }: Overlap): boolean {
  return known > rowsOf(run) / 2 && equal >= SAME_AGAIN_SHARE * known;
}

function isUneventful(value: Float64Array, run: ArrivalRun): boolean {
  const seen = new Set<number>();
  for (let i = run.from; i < run.to && seen.size < FEWEST_VALUES_THAT_TELL; i++) seen.add(value[i]!);
  return seen.size < FEWEST_VALUES_THAT_TELL;
}

/**
 * Whether live rows go on after a run where those before it ended, as after a batch, in which no time goes by. A clock
 * that was set goes on through the stamps.
 */
export function liveGoesOnAfter(taken: RowsTaken, run: ArrivalRun, coming: Coming, { gapMs }: ClockLimits): boolean {
  const { newestMs, intervalMs, timeMs } = taken;
  let lastMs = run.lastMs;
  for (let k = 0; ; k++) {
    const next = coming(k);
    if (!next) return false;
    if (next.lastMs <= newestMs) {
      lastMs = next.lastMs;
      continue;
    }
    let row = next.from;
    while (timeMs[row]! <= newestMs) row++;
    if (row > next.from) lastMs = timeMs[row - 1]!;
    return timeMs[row]! - newestMs < gapMs && timeMs[row]! - lastMs > 1.5 * intervalMs;
  }
}

/**
 * The clock that ran ahead until `run`, the return to the right one, which resumes where the time that went by since
 * the jump leads. A late batch resumes right after the last row before the gap instead, and ends where the gap does.
 */
export function clockAheadUntil(taken: RowsTaken, run: ArrivalRun, limits: ClockLimits): ClockAhead | undefined {
  if (fillOf(taken, run).after) return undefined;
  return stretchAhead(taken, run, limits, (resumesMs, elapsedMs) =>
    Math.abs(resumesMs) <= tolerance(elapsedMs, limits)
      ? { offMs: Math.abs(resumesMs), explainedMs: elapsedMs + resumesMs }
      : undefined,
  );
}

/** The same where rows are missing besides: the return comes later than the wrong rows lead, and before the jump's end. */
export function clockAheadUntilGap(
  taken: RowsTaken,
  run: ArrivalRun,
  overlap: Overlap,
  limits: ClockLimits,
): ClockAhead | undefined {
  const { after, before } = fillOf(taken, run);
  if (after || (before && !isConflict(overlap))) return undefined;
  return stretchAhead(taken, run, limits, (resumesMs, elapsedMs, firstWrongMs) =>
    resumesMs >= limits.gapMs && run.firstMs < firstWrongMs
      ? { offMs: Number.POSITIVE_INFINITY, explainedMs: elapsedMs }
      : undefined,
  );
}

function stretchAhead(
  { list, newestMs, intervalMs }: RowsTaken,
  run: ArrivalRun,
  { gapMs }: ClockLimits,
  told: (
    resumesMs: number,
    elapsedMs: number,
    firstWrongMs: number,
  ) => { offMs: number; explainedMs: number } | undefined,
): ClockAhead | undefined {
  let rows = 0;
  let spansMs = 0;
  for (let index = list.length - 1; index >= 1 && spansMs <= LONGEST_WRONG_MS; index--) {
    const entry = list[index]!;
    if (!cameLive(entry)) continue;
    const { run: wrong, newestBeforeMs, isReturn } = entry;
    rows += rowsOf(wrong);
    spansMs += wrong.lastMs - wrong.firstMs + intervalMs;
    // Not the run before: that may be a batch that came late.
    if (isReturn || wrong.firstMs - newestBeforeMs < gapMs || run.firstMs <= newestBeforeMs) continue;
    // What is missing under the wrong clock went by too, unless it is another jump.
    const withGapsMs = newestMs - wrong.firstMs + intervalMs;
    for (const elapsedMs of withGapsMs === spansMs ? [spansMs] : [withGapsMs, spansMs]) {
      if (elapsedMs > LONGEST_WRONG_MS) continue;
      const resumesMs = run.firstMs - newestBeforeMs - intervalMs - elapsedMs;
      const how = told(resumesMs, elapsedMs, wrong.firstMs);
      if (!how) continue;
      const fromMs = newestBeforeMs + intervalMs;
      return {
        index,
        lastedMs: elapsedMs,
        offMs: how.offMs,
        fault: {
          kind: 'clock_jump',
          startMs: newestBeforeMs,
          endMs: newestMs,
          count: rows,
          detail: 'the clock ran ahead and was set back',
        },
        explained: { fromMs, toMs: Math.min(run.firstMs, fromMs + how.explainedMs) },
      };
    }
  }
  return undefined;
}

/**
 * The clock that went back at `run` and was set right where the time that went by leads: the stamps step ahead by what
 * they had stepped back. It may have run on through the stamp at which it went back; then only rows in time that
 * others have (`isTold`) make it more than a batch that came late.
 */
export function clockBehindFrom(
  taken: RowsTaken,
  run: ArrivalRun,
  coming: Coming,
  isTold: boolean,
  limits: ClockLimits,
): ClockBehind | undefined {
  const { newestMs, intervalMs } = taken;
  let wrongMs = run.lastMs;
  let rows = rowsOf(run);
  for (let more = 0; ; more++) {
    const next = coming(more);
    const elapsedMs = wrongMs - run.firstMs + intervalMs;
    if (!next || elapsedMs > LONGEST_WRONG_MS) return undefined;
    if (next.firstMs - wrongMs >= limits.gapMs && next.firstMs > newestMs) {
      const off = Math.abs(next.firstMs - (newestMs + intervalMs + elapsedMs));
      const isLong = isTold || elapsedMs > FEWEST_ROWS_OF_A_WRONG_CLOCK * intervalMs;
      if (isLong && off <= tolerance(elapsedMs, limits)) {
        return {
          more,
          lastedMs: elapsedMs,
          offMs: off,
          fault: faultOf(newestMs, wrongMs, rows, 'the clock went back and was set right'),
          explained: { fromMs: newestMs + intervalMs, toMs: next.firstMs },
        };
      }
    }
    if (!isTold && next.lastMs > newestMs) return undefined;
    wrongMs = Math.max(wrongMs, next.lastMs);
    rows += rowsOf(next);
  }
}

/**
 * The clock that went back at `run` and was not set right where the time that went by leads. What came under it in time
 * that other rows have is left out, for the first row of a stamp stays. If the log then goes on without a pause,
 * nothing tells which of the two clocks was right. Where no other rows are, more time must have gone by than the wrong
 * rows lead, else they are a batch that came late.
 */
export function clockBehindFor(
  taken: RowsTaken,
  run: ArrivalRun,
  coming: Coming,
  isTold: boolean,
  limits: ClockLimits,
): ClockBehind | undefined {
  const { newestMs, intervalMs } = taken;
  const goesOn = (next: ArrivalRun) =>
    isTold ? isConflict(overlapWith(taken, next)) : overlapWith(taken, next).covered === 0;
  let wrongMs = run.lastMs;
  let rows = rowsOf(run);
  let more = 0;
  let next = coming(0);
  while (next && next.firstMs > wrongMs && next.lastMs <= newestMs && goesOn(next)) {
    wrongMs = next.lastMs;
    rows += rowsOf(next);
    next = coming(++more);
  }
  const lastedMs = wrongMs - run.firstMs + intervalMs;
  const offMs = Number.POSITIVE_INFINITY;
  if (!isTold && !(next && next.firstMs - newestMs >= lastedMs + limits.gapMs)) return undefined;
  if (next && next.firstMs - newestMs < limits.gapMs) {
    const detail = 'the clock went back; the rows of the same time that came first are used';
    return { more, lastedMs, offMs, fault: faultOf(run.firstMs, newestMs, rows, detail), explained: undefined };
  }
  const fromMs = newestMs + intervalMs;
  return {
    more,
    lastedMs,
    offMs,
    fault: faultOf(wrongMs, newestMs, rows, next ? 'the clock went back and was set right' : 'the clock went back'),
    explained: next && { fromMs, toMs: Math.min(next.firstMs, fromMs + lastedMs) },
  };
}

/** From the last right stamp to the last wrong one, or the other way round. */
export function faultOf(oneMs: number, otherMs: number, count: number, detail: string): MarkedFault {
  return { kind: 'clock_jump', startMs: Math.min(oneMs, otherMs), endMs: Math.max(oneMs, otherMs), count, detail };
}

/** Where more than the shortest gap is left, the time that went by doesn't explain it. */
function tolerance(elapsedMs: number, { intervalMs, gapMs }: ClockLimits): number {
  return Math.max(3 * intervalMs, Math.min(CLOCK_RATE_TOLERANCE * elapsedMs, gapMs));
}

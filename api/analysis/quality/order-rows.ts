import { type ArrivalRun, arrivalRuns, isInOrder, rowsOf } from './arrival-runs.ts';
import { withoutFarStamps } from './far-stamps.ts';
import { joinSpells, type MarkedFault } from './marked-fault.ts';
import {
  beginTaking,
  fillOf,
  letGoSince,
  type Overlap,
  overlapWith,
  type RowsTaken,
  rowsInOrder,
  take,
} from './rows-taken.ts';
import {
  type ClockAhead,
  type ClockBehind,
  type ClockLimits,
  type Coming,
  clockAheadUntil,
  clockAheadUntilGap,
  clockBehindFor,
  clockBehindFrom,
  FEWEST_ROWS_OF_A_WRONG_CLOCK,
  isConflict,
  isSentAgain,
  liveGoesOnAfter,
  mayBeAnything,
  type WrongClock,
} from './wrong-clock.ts';

/** Second deliveries closer together than this are one spell. */
const SPELL_MS = 300_000;
/** Late rows this close are one spell of disorder. */
const DISORDER_SPELL_MS = 30_000;

export interface OrderedRows {
  /** Rows to use, ascending in time, one a stamp; undefined where all rows stand as they came. */
  readonly rows: Uint32Array | undefined;
  readonly faults: readonly MarkedFault[];
  /** When the samples were taken that came under a wrong clock, ascending: no gap, though no row is stamped so. */
  readonly explained: readonly { readonly fromMs: number; readonly toMs: number }[];
}

/**
 * Puts rows that came late, twice or under a wrong clock into order. The first row of a stamp stays. What came under a
 * wrong clock is left out, not moved: nobody knows by how much it was wrong.
 * @param timeMs stamps in order of arrival
 * @param value the reading, to tell a repeated row from another one at the same stamp
 * @param gapMs the shortest gap, and the least by which a clock jumps
 */
export function orderRows(timeMs: Float64Array, value: Float64Array, intervalMs: number, gapMs: number): OrderedRows {
  if (isInOrder(timeMs)) return { rows: undefined, faults: [], explained: [] };
  const limits = { intervalMs, gapMs };
  const { near, far, returns } = withoutFarStamps(arrivalRuns(timeMs, gapMs), intervalMs);
  const taken = beginTaking(timeMs, value, intervalMs);
  const wrong: WrongClock[] = [...far];
  let rest: ArrivalRun | undefined;
  let isReturn = false;
  for (let index = 0; index < near.length || rest; ) {
    let run = rest ?? near[index++]!;
    rest = undefined;
    if (run.firstMs > taken.newestMs) {
      take(taken, run, undefined, isReturn || returns.has(run));
      isReturn = false;
      continue;
    }
    if (run.lastMs > taken.newestMs) {
      // What was sent again, or late, ran on into live rows without a pause: judge the two apart.
      [run, rest] = parted(timeMs, run, taken.newestMs);
    }
    const overlap = overlapWith(taken, run);
    const clock =
      rowsOf(run) >= FEWEST_ROWS_OF_A_WRONG_CLOCK
        ? wrongClock(taken, run, overlap, comingAfter(near, index, rest), limits)
        : undefined;
    if (clock && 'index' in clock) {
      letGoSince(taken, clock.index);
      take(taken, run, undefined, true);
    } else if (clock) {
      isReturn = clock.explained !== undefined;
      index += clock.more - (rest && clock.more > 0 ? 1 : 0);
      if (clock.more > 0) rest = undefined;
    } else {
      const isKnown = overlap.known > rowsOf(run) / 2;
      const kind = isKnown ? 'duplicate' : 'late';
      take(taken, run, { kind, startMs: run.firstMs, endMs: run.lastMs + intervalMs, count: rowsOf(run) }, false);
    }
    if (clock) wrong.push(clock);
  }
  const { rows, repeats } = rowsInOrder(taken);
  return {
    rows,
    faults: [...wrong.map((clock) => clock.fault), ...faultsOfArrival(taken, repeats)],
    explained: wrong.flatMap(({ explained }) => explained ?? []).sort((a, b) => a.fromMs - b.fromMs),
  };
}

/** What tells a wrong clock at a run that steps back behind rows that are taken; undefined for late or repeated rows. */
function wrongClock(
  taken: RowsTaken,
  run: ArrivalRun,
  overlap: Overlap,
  coming: Coming,
  limits: ClockLimits,
): ClockAhead | ClockBehind | undefined {
  if (isSentAgain(taken, run, overlap)) return undefined;
  const isOther = isConflict(overlap);
  const isMute = mayBeAnything(taken, run, overlap);
  const isBatch = !isOther && liveGoesOnAfter(taken, run, coming, limits);
  const { after, before } = fillOf(taken, run);
  const isElsewhere = overlap.covered === 0 && !after && !before;
  const ahead = isBatch ? undefined : clockAheadUntil(taken, run, limits);
  const behind =
    isOther || isElsewhere || isMute ? clockBehindFrom(taken, run, coming, !isElsewhere, limits) : undefined;
  const returned = likelier(ahead, behind, limits.intervalMs);
  if (returned) return isMute && returned.offMs > limits.intervalMs ? undefined : returned;
  const aheadUntilGap = isBatch ? undefined : clockAheadUntilGap(taken, run, overlap, limits);
  if (aheadUntilGap) return aheadUntilGap;
  return isOther || isElsewhere ? clockBehindFor(taken, run, coming, isOther, limits) : undefined;
}

/** The account whose return fits better, or the shorter one where both fit to the row. */
function likelier(
  ahead: ClockAhead | undefined,
  behind: ClockBehind | undefined,
  intervalMs: number,
): ClockAhead | ClockBehind | undefined {
  if (!ahead || !behind) return ahead ?? behind;
  if (Math.abs(ahead.offMs - behind.offMs) > intervalMs) return ahead.offMs < behind.offMs ? ahead : behind;
  return ahead.lastedMs <= behind.lastedMs ? ahead : behind;
}

function parted(timeMs: Float64Array, run: ArrivalRun, newestMs: number): [ArrivalRun, ArrivalRun] {
  let at = run.from + 1;
  while (timeMs[at]! <= newestMs) at++;
  return [
    { from: run.from, to: at, firstMs: run.firstMs, lastMs: timeMs[at - 1]! },
    { from: at, to: run.to, firstMs: timeMs[at]!, lastMs: run.lastMs },
  ];
}

function comingAfter(runs: readonly ArrivalRun[], index: number, rest: ArrivalRun | undefined): Coming {
  return rest ? (k) => (k === 0 ? rest : runs[index + k - 1]) : (k) => runs[index + k];
}

/** Late rows and second deliveries, in spells. */
function faultsOfArrival({ list }: RowsTaken, repeats: readonly MarkedFault[]): MarkedFault[] {
  const listed = list.flatMap(({ fault }) => fault ?? []);
  const twice = listed.filter((fault) => fault.kind === 'duplicate');
  const late = listed.filter((fault) => fault.kind === 'late');
  return [...joinSpells(late, DISORDER_SPELL_MS), ...joinSpells([...twice, ...repeats], SPELL_MS)];
}

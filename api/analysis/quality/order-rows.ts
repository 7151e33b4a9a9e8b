import { type ArrivalRun, arrivalRuns, isAscending } from './arrival-runs.ts';
import { joinSpells, type MarkedFault } from './marked-fault.ts';

/** Late or repeated rows closer together than this are one spell. */
const SPELL_MS = 300_000;
/** A clock that was set right again agrees with the time that went by to within this share of it. */
const CLOCK_RATE_TOLERANCE = 0.02;
/** Fewer rows than this with other values at old stamps are repeats, not a clock that went back. */
const FEWEST_ROWS_OF_A_WRONG_CLOCK = 3;

export interface OrderedRows {
  /** Rows to use, ascending in time, one a stamp; undefined where all rows stand as they came. */
  readonly rows: Uint32Array | undefined;
  readonly faults: readonly MarkedFault[];
}

/**
 * Puts rows that came late, twice or under a wrong clock into order. The first row of a stamp stays. What came under a
 * wrong clock is left out, not moved: nobody knows by how much it was wrong.
 * @param timeMs stamps in order of arrival
 * @param value the reading, to tell a repeated row from another one at the same stamp
 */
export function orderRows(timeMs: Float64Array, value: Float64Array, intervalMs: number, gapMs: number): OrderedRows {
  if (isAscending(timeMs)) return { rows: undefined, faults: [] };
  const runs = arrivalRuns(timeMs, gapMs);
  const faults: MarkedFault[] = [];
  const right: ArrivalRun[] = [];
  runs.forEach((run, index) => {
    const newest = right.reduce((latest, r) => Math.max(latest, r.lastMs), Number.NEGATIVE_INFINITY);
    if (run.firstMs > newest) {
      right.push(run);
      return;
    }
    const ahead = startOfClockAhead(right, run, runs[index + 1], newest, intervalMs, gapMs);
    if (ahead !== undefined) {
      const wrong = right.splice(ahead);
      faults.push({
        kind: 'clock_jump',
        startMs: right.at(-1)!.lastMs,
        endMs: wrong.at(-1)!.lastMs,
        count: wrong.reduce((sum, r) => sum + r.to - r.from, 0),
        detail: 'the clock ran ahead and was set back',
      });
      right.push(run);
      return;
    }
    const count = run.to - run.from;
    const spanMs = run.lastMs - run.firstMs + intervalMs;
    const { known, equal } = overlap(timeMs, value, right, run);
    const next = runs[index + 1];
    const resumesAfter = next ? next.firstMs - newest : Number.NaN;
    const timeWentBy =
      spanMs > 3 * intervalMs && Math.abs(resumesAfter - intervalMs - spanMs) <= tolerance(spanMs, intervalMs);
    if (
      count >= FEWEST_ROWS_OF_A_WRONG_CLOCK &&
      ((known > count / 2 && equal < known / 2) || (timeWentBy && known === 0))
    ) {
      faults.push({
        kind: 'clock_jump',
        startMs: Math.min(newest, run.lastMs),
        endMs: Math.max(newest, run.lastMs),
        count,
        detail: 'the clock went back',
      });
      return;
    }
    faults.push({
      kind: known > count / 2 ? 'duplicate' : 'late',
      startMs: run.firstMs,
      endMs: run.lastMs + intervalMs,
      count,
    });
    right.push(run);
  });
  const { rows, repeats } = mergeRuns(timeMs, right, intervalMs);
  const listed = faults.filter((fault) => fault.kind === 'duplicate');
  const repeatsElsewhere = repeats.filter(
    (repeat) => !listed.some((fault) => repeat.startMs >= fault.startMs && repeat.startMs < fault.endMs),
  );
  const byKind = (kind: MarkedFault['kind']) => [...faults, ...repeatsElsewhere].filter((fault) => fault.kind === kind);
  return {
    rows,
    faults: [
      ...byKind('clock_jump'),
      ...joinSpells(byKind('late'), 2 * intervalMs),
      ...joinSpells(byKind('duplicate'), SPELL_MS),
    ],
  };
}

function tolerance(elapsedMs: number, intervalMs: number): number {
  return Math.max(3 * intervalMs, CLOCK_RATE_TOLERANCE * elapsedMs);
}

/**
 * Index of the first right run that came under a clock ahead of time, where `run` is the return to the right one: it
 * resumes where the time that went by since the jump leads. A late batch resumes right after the gap instead, and
 * live rows follow it.
 */
function startOfClockAhead(
  right: readonly ArrivalRun[],
  run: ArrivalRun,
  next: ArrivalRun | undefined,
  newest: number,
  intervalMs: number,
  gapMs: number,
): number | undefined {
  let elapsed = 0;
  for (let k = right.length - 1; k >= 1; k--) {
    elapsed += right[k]!.lastMs - right[k]!.firstMs + intervalMs;
    const before = right[k - 1]!.lastMs;
    if (right[k]!.firstMs - before < gapMs) continue;
    const off = Math.abs(run.firstMs - (before + elapsed + intervalMs));
    if (off > tolerance(elapsed, intervalMs)) continue;
    const offAsLate = Math.abs(run.firstMs - (before + intervalMs));
    const liveFollows = next !== undefined && Math.abs(next.firstMs - newest - intervalMs) <= 3 * intervalMs;
    if (offAsLate <= off && liveFollows) continue;
    if (offAsLate <= intervalMs && run.lastMs < right[k]!.firstMs) continue;
    return k;
  }
  return undefined;
}

/** How many stamps of a run are there already, and how many of them with the same value. */
function overlap(
  timeMs: Float64Array,
  value: Float64Array,
  right: readonly ArrivalRun[],
  run: ArrivalRun,
): { known: number; equal: number } {
  let known = 0;
  let equal = 0;
  for (let i = run.from; i < run.to; i++) {
    for (const other of right) {
      if (timeMs[i]! < other.firstMs || timeMs[i]! > other.lastMs) continue;
      const found = rowAt(timeMs, other, timeMs[i]!);
      if (found === undefined) continue;
      known++;
      if (Object.is(value[found], value[i])) equal++;
      break;
    }
  }
  return { known, equal };
}

function rowAt(timeMs: Float64Array, run: ArrivalRun, atMs: number): number | undefined {
  let low = run.from;
  let high = run.to - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! < atMs) low = middle + 1;
    else high = middle;
  }
  return timeMs[low] === atMs ? low : undefined;
}

function mergeRuns(
  timeMs: Float64Array,
  right: readonly ArrivalRun[],
  intervalMs: number,
): { rows: Uint32Array; repeats: MarkedFault[] } {
  const all = new Uint32Array(right.reduce((sum, run) => sum + run.to - run.from, 0));
  const byStart = [...right].sort((a, b) => a.firstMs - b.firstMs || a.from - b.from);
  let n = 0;
  let disjoint = true;
  byStart.forEach((run, index) => {
    for (let i = run.from; i < run.to; i++) all[n++] = i;
    if (index > 0 && run.firstMs <= byStart[index - 1]!.lastMs) disjoint = false;
  });
  if (!disjoint) all.sort((a, b) => timeMs[a]! - timeMs[b]! || a - b);
  const repeats: MarkedFault[] = [];
  let kept = 0;
  for (let i = 0; i < n; i++) {
    const at = timeMs[all[i]!]!;
    if (kept > 0 && timeMs[all[kept - 1]!] === at) {
      repeats.push({ kind: 'duplicate', startMs: at, endMs: at + intervalMs, count: 1 });
    } else all[kept++] = all[i]!;
  }
  return { rows: all.slice(0, kept), repeats };
}

import { type ArrivalRun, arrivalRuns, isAscending } from './arrival-runs.ts';
import { joinSpells, type MarkedFault } from './marked-fault.ts';

/** Late or repeated rows closer together than this are one spell. */
const SPELL_MS = 300_000;
/** Swapped rows this close are one spell of disorder. */
const DISORDER_SPELL_MS = 30_000;
/** A clock that was set right again agrees with the time that went by to within this share of it. */
const CLOCK_RATE_TOLERANCE = 0.002;
/** A second delivery has the readings of the first; this share of them allows for a conflict or two. */
const SAME_AGAIN_SHARE = 0.95;
const FEWEST_VALUES_THAT_TELL = 4;
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
  const disorder = disordered(timeMs, runs, intervalMs);
  const faults: MarkedFault[] = [];
  const right: ArrivalRun[] = [];
  for (let index = 0; index < runs.length; index++) {
    const run = runs[index]!;
    const newest = latest(right);
    if (run.firstMs > newest) {
      right.push(run);
      continue;
    }
    if (run.lastMs > newest) {
      // What was sent again, or late, ran on into live rows without a pause: judge the two apart.
      const at = firstRowBeyond(timeMs, run, newest);
      const tail = { from: at, to: run.to, firstMs: timeMs[at]!, lastMs: run.lastMs };
      runs.splice(index, 1, { ...run, to: at, lastMs: Math.min(newest, timeMs[at - 1]!) }, tail);
      index--;
      continue;
    }
    const count = run.to - run.from;
    const spanMs = run.lastMs - run.firstMs + intervalMs;
    const { known, equal } = overlap(timeMs, value, right, run);
    const next = runs[index + 1];
    // A batch is followed by live rows where those before it ended; a clock set right goes on through the stamps.
    const skipsToLive = next !== undefined && next.firstMs > newest && next.firstMs - run.lastMs > 1.5 * intervalMs;
    const sentAgain = known > count / 2 && equal >= SAME_AGAIN_SHARE * known && !isUneventful(value, run);
    const ahead = skipsToLive || sentAgain ? undefined : startOfClockAhead(right, run, intervalMs, gapMs);
    if (ahead !== undefined) {
      const wrong = right.splice(ahead);
      faults.push({
        kind: 'clock_jump',
        startMs: latest(right),
        endMs: latest(wrong),
        count: wrong.reduce((sum, r) => sum + r.to - r.from, 0),
        detail: 'the clock ran ahead and was set back',
      });
      right.push(run);
      continue;
    }
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
      continue;
    }
    faults.push({
      kind: known > count / 2 ? 'duplicate' : 'late',
      startMs: run.firstMs,
      endMs: run.lastMs + intervalMs,
      count,
    });
    right.push(run);
  }
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
      ...joinSpells([...byKind('late'), ...disorder], DISORDER_SPELL_MS),
      ...joinSpells(byKind('duplicate'), SPELL_MS),
    ],
  };
}

function latest(runs: readonly ArrivalRun[]): number {
  return runs.reduce((newest, run) => Math.max(newest, run.lastMs), Number.NEGATIVE_INFINITY);
}

/** On a quiet main with a coarse converter other readings are equal too: few values tell nothing of a second delivery. */
function isUneventful(value: Float64Array, run: ArrivalRun): boolean {
  const seen = new Set<number>();
  for (let i = run.from; i < run.to && seen.size < FEWEST_VALUES_THAT_TELL; i++) seen.add(value[i]!);
  return seen.size < FEWEST_VALUES_THAT_TELL;
}

/** Rows that came after one with a later stamp of the same run, stamps sent twice left aside. */
function disordered(timeMs: Float64Array, runs: readonly ArrivalRun[], intervalMs: number): MarkedFault[] {
  const late: MarkedFault[] = [];
  for (const run of runs) {
    let newest = timeMs[run.from]!;
    const seen = new Set<number>();
    for (let i = run.from + 1; i < run.to; i++) {
      const at = timeMs[i]!;
      if (at > newest) {
        newest = at;
        continue;
      }
      if (seen.size === 0) for (let k = Math.max(run.from, i - 200); k < i; k++) seen.add(timeMs[k]!);
      if (!seen.has(at)) late.push({ kind: 'late', startMs: at, endMs: at + intervalMs, count: 1 });
      seen.add(at);
      if (seen.size > 2000) seen.clear();
    }
  }
  return late;
}

function firstRowBeyond(timeMs: Float64Array, run: ArrivalRun, newest: number): number {
  let at = run.from;
  while (at < run.to && timeMs[at]! <= newest) at++;
  return Math.max(run.from + 1, at);
}

function tolerance(elapsedMs: number, intervalMs: number): number {
  return Math.max(3 * intervalMs, CLOCK_RATE_TOLERANCE * elapsedMs);
}

/**
 * Index of the first right run that came under a clock ahead of time, where `run` is the return to the right one: it
 * resumes where the time that went by since the jump leads. A late batch resumes right after the last row before the
 * gap instead, and ends where the gap does.
 */
function startOfClockAhead(
  right: readonly ArrivalRun[],
  run: ArrivalRun,
  intervalMs: number,
  gapMs: number,
): number | undefined {
  if (fillsGap(right, run, intervalMs)) return undefined;
  let elapsed = 0;
  for (let k = right.length - 1; k >= 1; k--) {
    elapsed += right[k]!.lastMs - right[k]!.firstMs + intervalMs;
    // Not the run before: that may be a batch that came late.
    const before = latest(right.slice(0, k));
    if (right[k]!.firstMs - before < gapMs) continue;
    const off = Math.abs(run.firstMs - (before + elapsed + intervalMs));
    if (off > tolerance(elapsed, intervalMs)) continue;
    return k;
  }
  return undefined;
}

function fillsGap(right: readonly ArrivalRun[], run: ArrivalRun, intervalMs: number): boolean {
  const isAfterOne = right.some((r) => Math.abs(run.firstMs - r.lastMs - intervalMs) <= intervalMs / 2);
  return isAfterOne && !right.some((r) => r.firstMs <= run.lastMs && r.lastMs >= run.firstMs);
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
    for (let i = run.from; i < run.to; i++) {
      if (i > run.from && timeMs[i]! < timeMs[i - 1]!) disjoint = false;
      all[n++] = i;
    }
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

import { type ArrivalRun, rowsOf } from './arrival-runs.ts';
import type { MarkedFault } from './marked-fault.ts';

/** Rows up to this many intervals apart have no room for another one between them. */
const CLOSE_INTERVALS = 1.5;

/** A run that is used. */
export interface TakenRun {
  readonly run: ArrivalRun;
  /** Newest stamp that was taken before it; one that lies beyond it came live. */
  readonly newestBeforeMs: number;
  readonly fault: MarkedFault | undefined;
  /** The clock was set right here: what is missing before it is explained. */
  readonly isReturn: boolean;
}

/** The runs that are used, in order of arrival, and where a stamp is among them. */
export interface RowsTaken {
  readonly timeMs: Float64Array;
  readonly value: Float64Array;
  readonly intervalMs: number;
  readonly list: TakenRun[];
  newestMs: number;
  /** Ascending by first stamp, without those that begin inside another one. */
  readonly byStart: ArrivalRun[];
}

export function beginTaking(timeMs: Float64Array, value: Float64Array, intervalMs: number): RowsTaken {
  return { timeMs, value, intervalMs, list: [], newestMs: Number.NEGATIVE_INFINITY, byStart: [] };
}

export function cameLive({ run, newestBeforeMs }: TakenRun): boolean {
  return run.firstMs > newestBeforeMs;
}

export function take(taken: RowsTaken, run: ArrivalRun, fault: MarkedFault | undefined, isReturn: boolean): void {
  taken.list.push({ run, newestBeforeMs: taken.newestMs, fault, isReturn });
  taken.newestMs = Math.max(taken.newestMs, run.lastMs);
  const place = placeOf(taken.byStart, run.firstMs);
  const previous = taken.byStart[place - 1];
  if (previous && previous.lastMs >= run.firstMs) return;
  if (place === taken.byStart.length) taken.byStart.push(run);
  else taken.byStart.splice(place, 0, run);
}

/** Lets go of what came live since the run at `index`, and of what was filled into that. */
export function letGoSince(taken: RowsTaken, index: number): ArrivalRun[] {
  const beforeMs = taken.list[index]!.newestBeforeMs;
  const since = taken.list.splice(index);
  const stays = (entry: TakenRun) => !cameLive(entry) && entry.run.lastMs <= beforeMs;
  taken.list.push(...since.filter(stays));
  taken.newestMs = beforeMs;
  const gone = since.filter((entry) => !stays(entry)).map((entry) => entry.run);
  const gones = new Set(gone);
  const kept = taken.byStart.filter((run) => !gones.has(run));
  taken.byStart.splice(0, taken.byStart.length, ...kept);
  return gone;
}

export interface Overlap {
  /** Rows of a run whose stamp is there already. */
  readonly known: number;
  /** Those of them that have the same value. */
  readonly equal: number;
  /** Rows whose stamp is there already, or lies between two that have no room for another. */
  readonly covered: number;
}

/** How much of a run is in time that other rows have already. */
export function overlapWith({ timeMs, value, intervalMs, byStart }: RowsTaken, run: ArrivalRun): Overlap {
  let known = 0;
  let equal = 0;
  let covered = 0;
  for (let i = run.from; i < run.to; i++) {
    const at = timeMs[i]!;
    // The run that begins last before a stamp is the one that may hold it.
    const other = byStart[placeOf(byStart, at) - 1];
    if (!other || at > other.lastMs) continue;
    const row = rowFrom(timeMs, other, at);
    if (timeMs[row] === at) {
      known++;
      covered++;
      if (Object.is(value[row], value[i])) equal++;
    } else if (timeMs[row]! - timeMs[row - 1]! <= CLOSE_INTERVALS * intervalMs) covered++;
  }
  return { known, equal, covered };
}

/** Whether a run lies where no other row is, right after one, right before one. */
export function fillOf({ byStart, intervalMs }: RowsTaken, run: ArrivalRun): { after: boolean; before: boolean } {
  const place = placeOf(byStart, run.firstMs);
  const [previous, next] = [byStart[place - 1], byStart[place]];
  if ((previous && previous.lastMs >= run.firstMs) || (next && next.firstMs <= run.lastMs)) {
    return { after: false, before: false };
  }
  const isNext = (gapMs: number) => Math.abs(gapMs - intervalMs) <= intervalMs / 2;
  return {
    after: previous !== undefined && isNext(run.firstMs - previous.lastMs),
    before: next !== undefined && isNext(next.firstMs - run.lastMs),
  };
}

/**
 * Rows ascending in time, one a stamp, the first that came; and the others that came at a stamp, but for those of a
 * second delivery.
 */
export function rowsInOrder({ timeMs, list, intervalMs }: RowsTaken): { rows: Uint32Array; repeats: MarkedFault[] } {
  const all = new Uint32Array(list.reduce((sum, { run }) => sum + rowsOf(run), 0));
  const byStart = list.map(({ run }) => run).sort((a, b) => a.firstMs - b.firstMs || a.from - b.from);
  const sentAgain = new Uint8Array(timeMs.length);
  for (const { run, fault } of list) if (fault?.kind === 'duplicate') sentAgain.fill(1, run.from, run.to);
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
      if (sentAgain[all[i]!] === 0) repeats.push({ kind: 'duplicate', startMs: at, endMs: at + intervalMs, count: 1 });
    } else all[kept++] = all[i]!;
  }
  return { rows: all.slice(0, kept), repeats };
}

/** How many of these runs begin at or before a stamp. */
function placeOf(byStart: readonly ArrivalRun[], atMs: number): number {
  let low = 0;
  let high = byStart.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (byStart[middle]!.firstMs <= atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The first row of a run at or after a stamp that lies within it. */
function rowFrom(timeMs: Float64Array, run: ArrivalRun, atMs: number): number {
  let low = run.from;
  let high = run.to - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! < atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

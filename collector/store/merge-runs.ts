import type { SentRun } from '../model/series.ts';

/**
 * Joins lists of runs into one: ascending in time, each time once (where two lists hold the same time, the list named
 * first wins), neighbours of the same unit joined. Each run is ascending in itself.
 */
export function mergeRuns(lists: readonly (readonly SentRun[])[]): SentRun[] {
  const runs = lists.flat().filter((run) => run.timeMs.length > 0);
  const byStart = [...runs].sort((a, b) => a.timeMs[0]! - b.timeMs[0]!);
  const apart = byStart.every((run, i) => i === 0 || byStart[i - 1]!.timeMs.at(-1)! < run.timeMs[0]!);
  return apart ? joinNeighbours(byStart) : interleave(runs);
}

/** The samples with fromMs <= time < toMs; runs that fall outside vanish. */
export function cutRuns(runs: readonly SentRun[], fromMs: number, toMs: number): SentRun[] {
  const parts: SentRun[] = [];
  for (const run of runs) {
    const from = firstIndexAtOrAfter(run.timeMs, fromMs);
    const to = firstIndexAtOrAfter(run.timeMs, toMs);
    if (from >= to) continue;
    parts.push(from === 0 && to === run.timeMs.length ? run : sliceRun(run, from, to));
  }
  return parts;
}

export function sliceRun(run: SentRun, from: number, to: number): SentRun {
  const flags = run.flags?.slice(from, to);
  return {
    unit: run.unit,
    timeMs: run.timeMs.slice(from, to),
    value: run.value.slice(from, to),
    flags: flags?.some((bits) => bits !== 0) ? flags : undefined,
  };
}

/** Index of the first time that is at least `atMs`; the length where none is. */
export function firstIndexAtOrAfter(timeMs: Float64Array, atMs: number): number {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (timeMs[middle]! < atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

export function countSamples(runs: readonly SentRun[]): number {
  return runs.reduce((sum, run) => sum + run.timeMs.length, 0);
}

function joinNeighbours(runs: readonly SentRun[]): SentRun[] {
  const joined: SentRun[] = [];
  let at = 0;
  while (at < runs.length) {
    let end = at + 1;
    while (end < runs.length && runs[end]!.unit === runs[at]!.unit) end++;
    joined.push(end === at + 1 ? runs[at]! : concatenate(runs.slice(at, end)));
    at = end;
  }
  return joined;
}

/** One run out of several of the same unit that follow each other. */
export function concatenate(runs: readonly SentRun[]): SentRun {
  if (runs.length === 1) return runs[0]!;
  const count = countSamples(runs);
  const timeMs = new Float64Array(count);
  const value = new Float64Array(count);
  const flags = runs.some((run) => run.flags) ? new Uint8Array(count) : undefined;
  let at = 0;
  for (const run of runs) {
    timeMs.set(run.timeMs, at);
    value.set(run.value, at);
    if (run.flags) flags?.set(run.flags, at);
    at += run.timeMs.length;
  }
  return { unit: runs[0]!.unit, timeMs, value, flags };
}

/** The general case, for samples that arrived out of order: sorts single samples, earlier runs first on equal times. */
function interleave(runs: readonly SentRun[]): SentRun[] {
  const places: { atMs: number; run: SentRun; index: number }[] = [];
  for (const run of runs)
    for (let i = 0; i < run.timeMs.length; i++) places.push({ atMs: run.timeMs[i]!, run, index: i });
  places.sort((a, b) => a.atMs - b.atMs);
  const unique = places.filter((place, i) => i === 0 || places[i - 1]!.atMs !== place.atMs);
  const merged: SentRun[] = [];
  let from = 0;
  while (from < unique.length) {
    const unit = unique[from]!.run.unit;
    let to = from + 1;
    while (to < unique.length && unique[to]!.run.unit === unit) to++;
    const part = unique.slice(from, to);
    const flags = Uint8Array.from(part, ({ run, index }) => run.flags?.[index] ?? 0);
    merged.push({
      unit,
      timeMs: Float64Array.from(part, ({ atMs }) => atMs),
      value: Float64Array.from(part, ({ run, index }) => run.value[index]!),
      flags: flags.some((bits) => bits !== 0) ? flags : undefined,
    });
    from = to;
  }
  return merged;
}

import type { MarkedFault } from './marked-fault.ts';

/** A sensor isn't called stuck sooner. */
const SHORTEST_STUCK_MS = 300_000;
const FEWEST_STUCK_ROWS = 20;
/** Chance at which so long a run of equal readings is no longer put down to a quiet main. */
const CHANCE_OF_A_QUIET_RUN = 1e-4;
/** Frozen readings are this many times longer than the longest honest run, and not many. */
const TIMES_LONGER_THAN_USUAL = 3;
const MOST_SPELLS = 40;
/** Where most of the log is one reading, nothing shows that the sensor would move: quiet, or frozen all along. */
const MOST_SHARE = 0.3;

/**
 * From how many equal readings on a run is none that a quiet main on this converter would give; infinite where no run of
 * the log is. How long a run is usual comes from the log itself: with noise above half a step a repeat is a coin's toss,
 * on a coarse converter minutes of one code are honest.
 */
export function leastStuckRows(timeMs: Float64Array, pressureBar: Float64Array, intervalMs: number): number {
  const n = timeMs.length;
  const runs: { from: number; to: number }[] = [];
  let equal = 0;
  let pairs = 0;
  let longestShort = 0;
  for (let from = 0; from < n; ) {
    const to = endOfRun(pressureBar, from);
    if (Number.isFinite(pressureBar[from]!)) {
      equal += to - from - 1;
      pairs += to - from;
      if (to - from >= FEWEST_STUCK_ROWS) runs.push({ from, to });
      else longestShort = Math.max(longestShort, to - from);
    }
    from = to;
  }
  runs.sort((a, b) => b.to - b.from - (a.to - a.from));
  const lengths = runs.map((run) => run.to - run.from);
  let suspects = 0;
  for (let k = 1; k <= Math.min(MOST_SPELLS, lengths.length); k++) {
    const usual = lengths[k] ?? longestShort;
    if (lengths[k - 1]! >= TIMES_LONGER_THAN_USUAL * usual) suspects = k;
  }
  // The repeats of suspects don't testify for themselves.
  for (let s = 0; s < suspects; s++) {
    equal -= lengths[s]! - 1;
    pairs -= lengths[s]!;
  }
  const suspected = lengths.slice(0, suspects).reduce((sum, rows) => sum + rows, 0);
  if (suspected > MOST_SHARE * n) return Number.POSITIVE_INFINITY;
  const repeat = pairs > 0 ? Math.min(0.9999, Math.max(equal, 1) / pairs) : 0.5;
  let least = Number.POSITIVE_INFINITY;
  for (let s = 0; s < suspects; s++) {
    const unlikely = lengths[s]! * Math.log(repeat) + Math.log(Math.max(pairs, 1)) < Math.log(CHANCE_OF_A_QUIET_RUN);
    if (unlikely && lastsLong(timeMs, runs[s]!, intervalMs)) least = lengths[s]!;
  }
  return least;
}

/**
 * Marks runs of at least so many equal readings by setting all but the first to NaN.
 * @param first row from which to mark; those before it are judged
 */
export function markRunsOf(
  leastRows: number,
  timeMs: Float64Array,
  pressureBar: Float64Array,
  intervalMs: number,
  first = 0,
): MarkedFault[] {
  if (leastRows === Number.POSITIVE_INFINITY) return [];
  const faults: MarkedFault[] = [];
  for (let from = first; from < timeMs.length; ) {
    const to = endOfRun(pressureBar, from);
    if (to - from >= leastRows && lastsLong(timeMs, { from, to }, intervalMs)) {
      for (let i = from + 1; i < to; i++) pressureBar[i] = Number.NaN;
      faults.push({
        kind: 'stuck',
        startMs: timeMs[from]!,
        endMs: timeMs[to - 1]! + intervalMs,
        count: to - from,
        detail: `the same reading for ${to - from} rows`,
      });
    }
    from = to;
  }
  return faults;
}

function lastsLong(timeMs: Float64Array, { from, to }: { from: number; to: number }, intervalMs: number): boolean {
  return timeMs[to - 1]! - timeMs[from]! + intervalMs >= SHORTEST_STUCK_MS;
}

function endOfRun(bar: Float64Array, from: number): number {
  let to = from + 1;
  while (to < bar.length && bar[to] === bar[from]) to++;
  return to;
}

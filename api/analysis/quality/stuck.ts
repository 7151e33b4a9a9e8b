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
 * Marks runs of equal readings that a quiet main on this converter would not give, by setting all but the first to
 * NaN. How long a run is usual comes from the log itself: with noise above half a step a repeat is a coin's toss, on a
 * coarse converter minutes of one code are honest.
 */
export function markStuck(timeMs: Float64Array, pressureBar: Float64Array, intervalMs: number): MarkedFault[] {
  const n = timeMs.length;
  const runs: { from: number; to: number }[] = [];
  let equal = 0;
  let pairs = 0;
  for (let from = 0; from < n; ) {
    let to = from + 1;
    while (to < n && pressureBar[to] === pressureBar[from]) to++;
    if (Number.isFinite(pressureBar[from]!)) {
      equal += to - from - 1;
      pairs += to - from;
      if (to - from >= FEWEST_STUCK_ROWS) runs.push({ from, to });
    }
    from = to;
  }
  if (runs.length === 0) return [];
  runs.sort((a, b) => b.to - b.from - (a.to - a.from));
  const lengths = runs.map((run) => run.to - run.from);
  let suspects = 0;
  for (let k = 1; k <= Math.min(MOST_SPELLS, lengths.length); k++) {
    const usual = Math.max(FEWEST_STUCK_ROWS, lengths[k] ?? 0);
    if (lengths[k - 1]! >= TIMES_LONGER_THAN_USUAL * usual) suspects = k;
  }
  // The repeats of suspects don't testify for themselves.
  for (let s = 0; s < suspects; s++) {
    equal -= lengths[s]! - 1;
    pairs -= lengths[s]!;
  }
  const suspected = lengths.slice(0, suspects).reduce((sum, rows) => sum + rows, 0);
  if (suspected > MOST_SHARE * n) return [];
  const repeat = pairs > 0 ? Math.min(0.9999, Math.max(equal, 1) / pairs) : 0.5;
  const faults: MarkedFault[] = [];
  for (let s = 0; s < suspects; s++) {
    const run = runs[s]!;
    const rows = lengths[s]!;
    const spanMs = timeMs[run.to - 1]! - timeMs[run.from]! + intervalMs;
    const unlikely = rows * Math.log(repeat) + Math.log(Math.max(pairs, 1)) < Math.log(CHANCE_OF_A_QUIET_RUN);
    if (spanMs < SHORTEST_STUCK_MS || !unlikely) continue;
    for (let i = run.from + 1; i < run.to; i++) pressureBar[i] = Number.NaN;
    faults.push({
      kind: 'stuck',
      startMs: timeMs[run.from]!,
      endMs: timeMs[run.to - 1]! + intervalMs,
      count: rows,
      detail: `the same reading for ${rows} rows`,
    });
  }
  return faults;
}

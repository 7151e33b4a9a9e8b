import type { MarkedFault } from './marked-fault.ts';

/** A sensor isn't called stuck sooner. */
const SHORTEST_STUCK_MS = 300_000;
const FEWEST_STUCK_ROWS = 20;
/** Chance at which so long a run of equal readings is no longer put down to a quiet main. */
const CHANCE_OF_A_QUIET_RUN = 1e-4;
/** A run this many times longer than nearly all others is not quietness but a frozen reading. */
const TIMES_LONGER_THAN_USUAL = 6;

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
  let longEqual = 0;
  for (let from = 0; from < n; ) {
    let to = from + 1;
    while (to < n && pressureBar[to] === pressureBar[from]) to++;
    if (Number.isFinite(pressureBar[from]!)) {
      equal += to - from - 1;
      pairs += to - from;
      if (to - from >= FEWEST_STUCK_ROWS) {
        runs.push({ from, to });
        longEqual += to - from - 1;
      }
    }
    from = to;
  }
  if (runs.length === 0) return [];
  runs.sort((a, b) => b.to - b.from - (a.to - a.from));
  const lengths = runs.map((run) => run.to - run.from);
  // The repeats of suspects don't testify for themselves: they are taken out while they dwarf the rest.
  const faults: MarkedFault[] = [];
  for (let s = 0; s < Math.min(runs.length, 200); s++) {
    const run = runs[s]!;
    const rows = lengths[s]!;
    equal -= rows - 1;
    pairs -= rows;
    longEqual -= rows - 1;
    const repeat = pairs > 0 ? Math.max(equal, 1) / pairs : 0.5;
    const rest = lengths.slice(s + 1);
    const usual = rest.length > 0 ? rest[Math.floor(rest.length * 0.02)]! : FEWEST_STUCK_ROWS;
    const spanMs = timeMs[run.to - 1]! - timeMs[run.from]! + intervalMs;
    const unlikely =
      rows * Math.log(Math.min(repeat, 0.9999)) + Math.log(Math.max(pairs, 1)) < Math.log(CHANCE_OF_A_QUIET_RUN);
    if (spanMs < SHORTEST_STUCK_MS || !unlikely || rows < TIMES_LONGER_THAN_USUAL * usual) continue;
    for (let i = run.from + 1; i < run.to; i++) pressureBar[i] = Number.NaN;
    faults.push({
      kind: 'stuck',
      startMs: timeMs[run.from]!,
      endMs: timeMs[run.to - 1]! + intervalMs,
      count: rows,
      detail: `the same reading for ${rows} rows`,
    });
  }
  return longEqual >= 0 ? faults : [];
}

import { median } from '../statistics/quantile.ts';
import { firstAfter, type PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** A pump at rest lets its inlet come back within seconds; a shorter rest than this may not show it. */
const SHORTEST_REST_MS = 5_000;
const FEWEST_READINGS = 3;
/** The inlet stood at the middle of the readings of so long before a run. */
const BEFORE_MS = 30_000;
/** The least pull that tells a run from the street's own moves, in bar: the pump goes on while every reading shows it. */
const LEAST_PULL_BAR = 0.06;
const LEAST_PULL_IN_NOISE = 8;
/** A start pulls its inlet down; where it was pulled by this part of the run's pull just before, that was no start. */
const PULLED_SHARE = 0.5;

/**
 * Runs that the pressure behind the pump shows, joined where the pressure before it says that the pump never rested between
 * them: a tap that opens and closes again under a running pump looks like a stop and a start. Linear time.
 * @param inlet times and pressures before the pump, NaN where there is none
 */
export function joinedByInlet(
  runs: readonly PumpRun[],
  rows: PumpRows,
  inlet: { readonly timeMs: Float64Array; readonly bar: Float64Array },
): PumpRun[] {
  const joined: PumpRun[] = [];
  for (const run of runs) {
    const last = joined[joined.length - 1];
    const previous = joined[joined.length - 2];
    if (last && staysPulled(last, run, previous?.stopMs ?? Number.NEGATIVE_INFINITY, rows, inlet)) {
      const { startMs, startRow, cutInBar } = last;
      joined[joined.length - 1] = { ...run, startMs, startRow, ...(cutInBar === undefined ? {} : { cutInBar }) };
    } else joined.push(run);
  }
  return joined;
}

function staysPulled(
  last: PumpRun,
  next: PumpRun,
  previousStopMs: number,
  { noiseBar, intervalMs }: PumpRows,
  inlet: { readonly timeMs: Float64Array; readonly bar: Float64Array },
): boolean {
  const { startMs, stopMs } = last;
  if (stopMs === undefined || next.startMs - stopMs < Math.max(SHORTEST_REST_MS, FEWEST_READINGS * intervalMs)) {
    return false;
  }
  const standing = within(inlet, Math.max(startMs - BEFORE_MS, previousStopMs + SHORTEST_REST_MS), startMs);
  const between = within(inlet, stopMs, next.startMs);
  const justBefore = within(
    inlet,
    next.startMs - Math.max(SHORTEST_REST_MS, FEWEST_READINGS * intervalMs),
    next.startMs,
  );
  const during = within(inlet, next.startMs + intervalMs, next.stopMs ?? next.startMs + BEFORE_MS);
  if (standing.length < FEWEST_READINGS || justBefore.length < FEWEST_READINGS || during.length === 0) return false;
  const standingBar = median(standing);
  const leastBar = Math.max(LEAST_PULL_BAR, LEAST_PULL_IN_NOISE * noiseBar);
  const pullBar = Math.max(leastBar, standingBar - median(during));
  return (
    between.every((bar) => standingBar - bar >= leastBar) &&
    justBefore.every((bar) => standingBar - bar >= PULLED_SHARE * pullBar)
  );
}

/** Readings after one time and up to another. */
function within(
  { timeMs, bar }: { readonly timeMs: Float64Array; readonly bar: Float64Array },
  fromMs: number,
  toMs: number,
): Float64Array {
  return bar.subarray(firstAfter(timeMs, fromMs), firstAfter(timeMs, toMs)).filter((value) => !Number.isNaN(value));
}

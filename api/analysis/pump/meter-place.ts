import type { AnalysisSite, MeterPlace } from '../findings.ts';
import { markDemand } from './demand.ts';
import { inletRuns } from './inlet-runs.ts';
import { type MeterHabits, meteredRuns } from './metered-runs.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** So many rests or runs must say so before a meter's place is told from the readings. */
const FEWEST_TELLING = 8;
/** Part of runs and pulls that must agree: small fills pass a meter unseen. */
const AGREE_SHARE = 0.9;
/** Part of the rests that must: what coarse rows show as a rest may be a draw's balance with a running pump. */
const RESTS_AGREE_SHARE = 0.75;
/** Either end of a rest may hold some of a run, for so many intervals or so long: a motor turns on. */
const EDGE_INTERVALS = 1.5;
const EDGE_MS = 3_000;
/** So many intervals must be left of a rest to tell, and so many must a pull last. */
const TELLING_ROWS = { rest: 2, pull: 3 } as const;
/** Starts and stops of the flow and of the inlet's pull agree within so many intervals, or so long. */
const TOGETHER_INTERVALS = 1.5;
const TOGETHER_MS = 3_000;

interface Flow {
  readonly timeMs: Float64Array;
  readonly lpm: Float64Array;
}

/**
 * Where a flow meter sits, which decides what its flow says of a pump: as the site says, or as the readings of the pressure
 * beside it tell. Before the vessel water passes in every run and in no rest, however much is drawn meanwhile; behind it
 * the household's draws pass whether the pump runs or rests. Unknown where neither tells.
 * @param shown runs that the pressure behind the pump shows; none elsewhere
 */
export function meterPlace(
  site: AnalysisSite,
  rows: PumpRows,
  shown: readonly PumpRun[],
  flow: Flow | undefined,
  habits: MeterHabits | undefined,
): MeterPlace | 'unknown' {
  if (site.meters !== undefined || !flow || !habits) return site.meters ?? 'unknown';
  switch (site.sensor.position) {
    case 'pump_outlet':
      return placeByRests(rows, shown, flow, habits);
    case 'pump_inlet':
      return goesWithPulls(rows, flow, habits) ? 'pump' : 'unknown';
    case 'incoming':
      // Without a transducer at the pump a household's draw and the pump's run look alike.
      return 'unknown';
    default:
      return site.sensor.position satisfies never;
  }
}

/** Rests that were drawn from by their pressure tell, by whether the meter saw that; and so do the runs. */
function placeByRests(
  rows: PumpRows,
  shown: readonly PumpRun[],
  flow: Flow,
  { leastLpm }: MeterHabits,
): MeterPlace | 'unknown' {
  const marked = markDemand(rows, shown, undefined);
  const edgeMs = Math.max(EDGE_INTERVALS * rows.intervalMs, EDGE_MS);
  const rests = { of: 0, flowing: 0 };
  const runs = { of: 0, flowing: 0 };
  const note = (count: typeof rests, fromMs: number, toMs: number): void => {
    const flowing = flowsWithin(flow, fromMs, toMs, leastLpm);
    if (flowing === undefined) return;
    count.of++;
    if (flowing) count.flowing++;
  };
  for (let k = 1; k < marked.length; k++) {
    const { startMs, stopMs } = marked[k - 1]!;
    if (stopMs === undefined) continue;
    // A flow is the mean of the interval that ends at its time.
    note(runs, startMs, stopMs + rows.intervalMs);
    const next = marked[k]!;
    if (next.onDemand && next.startMs - stopMs >= 2 * edgeMs + TELLING_ROWS.rest * rows.intervalMs) {
      note(rests, stopMs + edgeMs, next.startMs - edgeMs);
    }
  }
  if (rests.of < FEWEST_TELLING || runs.of < FEWEST_TELLING) return 'unknown';
  if (rests.flowing >= RESTS_AGREE_SHARE * rests.of) return 'household';
  const onlyRuns = rests.flowing <= (1 - RESTS_AGREE_SHARE) * rests.of && runs.flowing >= AGREE_SHARE * runs.of;
  return onlyRuns ? 'pump' : 'unknown';
}

/** Whether the inlet is pulled down where the meter sees flow and nowhere else, from the same start to the same stop. */
function goesWithPulls(rows: PumpRows, flow: Flow, habits: MeterHabits): boolean {
  const pulls = inletRuns(rows).filter(
    ({ startMs, stopMs }) => stopMs! - startMs >= TELLING_ROWS.pull * rows.intervalMs,
  );
  const { runs } = meteredRuns(flow.timeMs, flow.lpm, rows, habits);
  if (pulls.length < FEWEST_TELLING) return false;
  const nearMs = Math.max(TOGETHER_MS, TOGETHER_INTERVALS * rows.intervalMs);
  let k = 0;
  let together = 0;
  for (const pull of pulls) {
    while (k < runs.length && runs[k]!.startMs < pull.startMs - nearMs) k++;
    const run = runs[k];
    if (run?.stopMs === undefined || run.startMs > pull.startMs + nearMs) continue;
    if (Math.abs(run.stopMs - pull.stopMs!) <= nearMs) together++;
  }
  return together >= AGREE_SHARE * pulls.length;
}

/** Whether any value of a span shows flow; undefined where it holds none. */
function flowsWithin({ timeMs, lpm }: Flow, fromMs: number, toMs: number, leastLpm: number): boolean | undefined {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! <= fromMs) low = middle + 1;
    else high = middle;
  }
  let known: false | undefined;
  for (let i = low; i < timeMs.length && timeMs[i]! <= toMs; i++) {
    if (Number.isNaN(lpm[i]!)) continue;
    if (lpm[i]! >= leastLpm) return true;
    known = false;
  }
  return known;
}

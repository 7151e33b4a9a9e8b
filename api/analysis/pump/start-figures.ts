import { formatRfc3339 } from '../../../collector/model/instant.ts';
import type { PumpStart } from '../findings.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { spinUpOf } from './spin-up.ts';

const seconds = (ms: number): number => Math.round(ms) / 1000;
const hundredths = (value: number): number => Math.round(100 * value) / 100;

/** A run as the document tells it, by itself. */
export function toPumpStart(run: PumpRun): PumpStart {
  return {
    start: formatRfc3339(run.startMs),
    ...(run.stopMs === undefined ? {} : { stop: formatRfc3339(run.stopMs), onS: seconds(run.stopMs - run.startMs) }),
    ...(run.onDemand === undefined ? {} : { onDemand: run.onDemand }),
    ...(run.cutInBar === undefined ? {} : { cutInBar: run.cutInBar }),
    ...(run.cutOutBar === undefined ? {} : { cutOutBar: run.cutOutBar }),
  };
}

/**
 * Every start with the time off before it and, behind a pump, how long it spun up. `gaps` are where a run may have been
 * missed, ascending: across one the time off isn't known. Linear time.
 */
export function pumpStartsOf(
  rows: PumpRows,
  runs: readonly PumpRun[],
  gaps: readonly LogGap[],
  known: { readonly atOutlet: boolean; readonly hasChannel: boolean },
  told: ToldStarts = new WeakMap(),
): PumpStart[] {
  let gap = 0;
  return runs.map((run, k) => {
    const before = runs[k - 1];
    const kept = told.get(run);
    if (kept && kept.before === before) return kept.start;
    const stopMs = before?.stopMs;
    while (gap < gaps.length && gaps[gap]!.toMs <= (stopMs ?? run.startMs)) gap++;
    const unbroken = stopMs !== undefined && !(gap < gaps.length && gaps[gap]!.fromMs < run.startMs);
    const spun =
      known.atOutlet && known.hasChannel ? spinUpOf(rows, run, unbroken ? (before?.stopRow ?? 0) : 0) : undefined;
    const start = {
      ...toPumpStart(run),
      ...(unbroken && run.startMs >= stopMs ? { offS: seconds(run.startMs - stopMs) } : {}),
      ...(spun ? { spinUpS: hundredths(spun.seconds), spinUpSdS: hundredths(spun.sdSeconds) } : {}),
    };
    told.set(run, { before, start });
    return start;
  });
}

/** Starts as they were told, by the run that each is of and the one before it, for a growing log. */
export type ToldStarts = WeakMap<PumpRun, { readonly before: PumpRun | undefined; readonly start: PumpStart }>;

/** From the last row before a hole in the log to the first after it. */
export interface LogGap {
  readonly fromMs: number;
  readonly toMs: number;
}

/** Where usable rows of a pressure break off. */
export function gapsOfRows({ timeMs, stretchFrom }: PumpRows): LogGap[] {
  const gaps: LogGap[] = [];
  for (let s = 1; s + 1 < stretchFrom.length; s++) {
    const first = stretchFrom[s]!;
    if (first > 0 && first < timeMs.length) gaps.push({ fromMs: timeMs[first - 1]!, toMs: timeMs[first]! });
  }
  return gaps;
}

/** Where a channel has no value for longer than this many intervals and this long, a run may have come and gone. */
const CHANNEL_INTERVALS = 3.5;
const CHANNEL_LEAST_MS = 10_000;

/** Where a pump's on/off channel breaks off. */
export function gapsOfChannel(timeMs: Float64Array, pumpOn: Float64Array, intervalMs: number): LogGap[] {
  const longestMs = Math.max(CHANNEL_INTERVALS * intervalMs, CHANNEL_LEAST_MS);
  const gaps: LogGap[] = [];
  let lastMs: number | undefined;
  for (let i = 0; i < timeMs.length; i++) {
    if (Number.isNaN(pumpOn[i]!)) continue;
    if (lastMs !== undefined && timeMs[i]! - lastMs > longestMs) gaps.push({ fromMs: lastMs, toMs: timeMs[i]! });
    lastMs = timeMs[i]!;
  }
  return gaps;
}

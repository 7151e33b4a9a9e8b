import type { Series } from '../../collector/model/series.ts';
import type { AnalysisColumns } from '../analysis/findings.ts';

/** What a stay recorded, each channel at its own times; `inlet` is the pressure before the pump. */
export interface RecordedChannels {
  readonly pressure: Series;
  readonly flow: Series | undefined;
  readonly pump: Series | undefined;
  readonly inlet: Series | undefined;
}

/** Differences looked at to find a channel's interval: enough for a median, few enough to cost nothing. */
const INTERVALS_LOOKED_AT = 2_000;

/** How far the reading of a channel that goes with a row may be from it, in milliseconds; missing for one that is empty. */
export type JoinReach = Partial<Record<'flow' | 'pump' | 'inlet', number>>;

/** Half of the longer of two channels' intervals. */
function reachOf(base: Series, series: Series): number {
  return Math.max(usualIntervalMs(base.timeMs), usualIntervalMs(series.timeMs)) / 2;
}

/** The reach of the channels that go with a stay's pressure readings. */
export function joinReach({ pressure, flow, pump, inlet }: RecordedChannels): JoinReach {
  const reach: JoinReach = {};
  for (const [name, series] of Object.entries({ flow, pump, inlet }) as [keyof JoinReach, Series | undefined][]) {
    if (series && series.timeMs.length > 0) reach[name] = reachOf(pressure, series);
  }
  return reach;
}

/**
 * The rows of a stay's pressure readings from a time on, as `joinColumns` makes them of the whole stay with that reach.
 * @param recorded pressure from that time on, the other channels from their reach before it on
 */
export function joinTail({ pressure, flow, pump, inlet }: RecordedChannels, reach: JoinReach): AnalysisColumns {
  const joined = (series: Series | undefined, withinMs: number | undefined) =>
    series && withinMs !== undefined ? nearestValues(pressure.timeMs, series, withinMs) : undefined;
  return {
    timeMs: pressure.timeMs,
    pressureBar: pressure.value,
    flowLpm: joined(flow, reach.flow),
    pumpOn: joined(pump, reach.pump),
    inletBar: joined(inlet, reach.inlet),
  };
}

/**
 * One row for each pressure reading (for each pump or flow reading where there is no pressure), with the nearest reading
 * of the other channels within half an interval; NaN where there is none. O(n).
 */
export function joinColumns(recorded: RecordedChannels): AnalysisColumns {
  const { pressure, flow, pump, inlet } = recorded;
  const base = [pressure, pump, flow].find((series) => series !== undefined && series.timeMs.length > 0) ?? pressure;
  const joined = (series: Series | undefined) =>
    series === undefined || series.timeMs.length === 0
      ? undefined
      : series === base
        ? series.value
        : nearestValues(base.timeMs, series, reachOf(base, series));
  return {
    timeMs: base.timeMs,
    pressureBar: base === pressure ? pressure.value : new Float64Array(base.timeMs.length).fill(Number.NaN),
    flowLpm: joined(flow),
    pumpOn: joined(pump),
    inletBar: joined(inlet),
  };
}

/** For each time the value of the nearest reading at most `withinMs` away (the earlier of two as near), else NaN. */
export function nearestValues(timesMs: Float64Array, series: Series, withinMs: number): Float64Array {
  const found = new Float64Array(timesMs.length).fill(Number.NaN);
  const { timeMs, value } = series;
  let next = 0;
  for (let row = 0; row < timesMs.length; row++) {
    const at = timesMs[row]!;
    while (next < timeMs.length && timeMs[next]! < at) next++;
    const after = next < timeMs.length ? timeMs[next]! - at : Number.POSITIVE_INFINITY;
    const before = next > 0 ? at - timeMs[next - 1]! : Number.POSITIVE_INFINITY;
    if (Math.min(before, after) > withinMs) continue;
    found[row] = before <= after ? value[next - 1]! : value[next]!;
  }
  return found;
}

/** Median step between the first readings in milliseconds; nought where there are fewer than two. */
export function usualIntervalMs(timesMs: Float64Array): number {
  const steps = Array.from(
    { length: Math.max(0, Math.min(timesMs.length - 1, INTERVALS_LOOKED_AT)) },
    (_, index) => timesMs[index + 1]! - timesMs[index]!,
  ).sort((a, b) => a - b);
  return steps[Math.floor(steps.length / 2)] ?? 0;
}

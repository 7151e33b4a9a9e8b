import { utcOffsetMinutes } from '../../../collector/model/local-time.ts';
import type { InletPull } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import type { PulledStretch } from './pulled-stretches.ts';
import type { PumpRows } from './pump-rows.ts';

/** The inlet's standing pressure beside a run is the mean of the readings so near to it. */
const BESIDE_MS = 30_000;
/** Nothing is said of the standing pressure where none was seen for longer. */
const LONGEST_UNSEEN_MS = 600_000;

/** What one run did to the inlet; NaN where no reading tells. */
export interface RunPull {
  /** Standing pressure at a moment of the run: between what was seen before it and after it, in a straight line. */
  readonly standingAt: (atMs: number) => number;
  readonly lowestBar: number;
  /** How far the lowest lies under the standing pressure at that moment. */
  readonly pullBar: number;
}

interface Level {
  readonly atMs: number;
  readonly bar: number;
}

/**
 * How far each run pulled its inlet. The main itself rises and falls through a day and through a long run, so that a pull
 * is told against its standing pressure at that moment. Linear time.
 * @param pulled the stretch of each run, with the inlet's recovery
 */
export function runPulls(inlet: PumpRows, pulled: readonly PulledStretch[]): RunPull[] {
  const { timeMs, calmBar } = inlet;
  const before: (Level | undefined)[] = [];
  const after: (Level | undefined)[] = [];
  const lowest: Level[] = [];
  const nearMs = Math.max(BESIDE_MS, 1.5 * inlet.intervalMs);
  let row = 0;
  let idleFrom = 0;
  const level = (from: number, to: number, edgeMs: number, direction: 1 | -1): Level | undefined => {
    let sum = 0;
    let sumMs = 0;
    let n = 0;
    const first = direction > 0 ? from : to - 1;
    if (to <= from || Math.abs(timeMs[first]! - edgeMs) > LONGEST_UNSEEN_MS) return undefined;
    for (let i = first; i >= from && i < to && Math.abs(timeMs[i]! - timeMs[first]!) <= nearMs; i += direction) {
      sum += calmBar[i]!;
      sumMs += timeMs[i]! - edgeMs;
      n++;
    }
    return { atMs: edgeMs + sumMs / n, bar: sum / n };
  };
  for (const { startMs, endMs } of pulled) {
    while (row < timeMs.length && timeMs[row]! < startMs) row++;
    const previous = pulled[before.length - 1];
    if (previous) after.push(level(idleFrom, row, previous.endMs, 1));
    before.push(level(idleFrom, row, startMs, -1));
    let deepest = { atMs: startMs, bar: Number.POSITIVE_INFINITY };
    for (; row < timeMs.length && timeMs[row]! < endMs; row++) {
      if (calmBar[row]! < deepest.bar) deepest = { atMs: timeMs[row]!, bar: calmBar[row]! };
    }
    lowest.push(deepest);
    idleFrom = row;
  }
  if (pulled.length > 0) after.push(level(idleFrom, timeMs.length, pulled.at(-1)!.endMs, 1));
  // Between runs in quick succession nothing is seen: what was seen before the first of them, or after the last, holds.
  const held = (levels: (Level | undefined)[], k: number, step: 1 | -1): Level | undefined => {
    for (let j = k; j >= 0 && j < levels.length; j += step) {
      if (Math.abs(pulled[j]!.startMs - pulled[k]!.startMs) > LONGEST_UNSEEN_MS) return undefined;
      if (levels[j]) return levels[j];
    }
    return undefined;
  };
  return lowest.map(({ atMs, bar }, k) => {
    const from = held(before, k, -1);
    const to = held(after, k, 1);
    const standingAt = (at: number): number => {
      if (!from || !to) return (from ?? to)?.bar ?? Number.NaN;
      const share = Math.min(1, Math.max(0, (at - from.atMs) / Math.max(1, to.atMs - from.atMs)));
      return from.bar + share * (to.bar - from.bar);
    };
    const seen = Number.isFinite(bar);
    return { standingAt, lowestBar: seen ? bar : Number.NaN, pullBar: seen ? standingAt(atMs) - bar : Number.NaN };
  });
}

/**
 * How far the pump pulls its inlet down, in all and by the local hour in which a run started; undefined where no run has
 * a reading of the inlet.
 * @param isWeak whether the inlet was below the limit in each run
 */
export function inletPullOf(
  pulls: readonly RunPull[],
  pulled: readonly PulledStretch[],
  isWeak: readonly boolean[],
  timeZone: string,
): InletPull | undefined {
  const told = pulls.flatMap(({ pullBar, lowestBar }, k) =>
    Number.isNaN(lowestBar)
      ? []
      : [{ hour: hourOf(pulled[k]!.startMs, timeZone), weak: isWeak[k] === true, pullBar, lowestBar }],
  );
  if (told.length === 0) return undefined;
  const figures = (some: typeof told) => {
    const bars = some.map(({ pullBar }) => pullBar).filter((bar) => !Number.isNaN(bar));
    return {
      runs: some.length,
      weakRuns: some.filter(({ weak }) => weak).length,
      lowestBar: some.reduce((least, { lowestBar }) => Math.min(least, lowestBar), Number.POSITIVE_INFINITY),
      ...(bars.length === 0 ? {} : { medianPullBar: median(bars), worstPullBar: greatest(bars) }),
    };
  };
  const hours = [...new Set(told.map(({ hour }) => hour))].sort((a, b) => a - b);
  return {
    ...figures(told),
    hours: hours.map((hour) => ({ hour, ...figures(told.filter((one) => one.hour === hour)) })),
  };
}

function greatest(bars: readonly number[]): number {
  return bars.reduce((most, bar) => Math.max(most, bar), Number.NEGATIVE_INFINITY);
}

function hourOf(atMs: number, timeZone: string): number {
  const minute = Math.floor(atMs / 60_000) + utcOffsetMinutes(atMs, timeZone);
  return Math.floor((((minute % 1440) + 1440) % 1440) / 60);
}

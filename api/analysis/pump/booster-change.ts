import { formatRfc3339 } from '../../../collector/model/instant.ts';
import type { Change } from '../findings.ts';
import { median, quantile } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
/** A change is lasting with at least this much on each side of it. */
const EACH_SIDE_MS = 3 * DAY_MS;
/** A booster adds more than this, or it isn't worth its current. Common practice, no source. */
const LEAST_LIFT_BAR = 0.3;
/** All but this share of the higher side's hours must lie above all but this share of the lower side's. */
const OVERLAP_SHARE = 0.1;
/** With a booster there are at least this many starts a day, and this many times as many as without. */
const LEAST_STARTS_PER_DAY = 2;
const STARTS_RATIO = 8;
/** The dividing level lies so far up from the lower side, which only the street moves; a vessel may rest a little above it. */
const DIVIDING_SHARE = 0.25;
/** The edge is placed on single readings within this long of the hour found. */
const EDGE_NEAR_MS = 12 * HOUR_MS;

/** Median pressure of an hour, and the first row after it. */
export interface HourLevel {
  readonly startMs: number;
  readonly bar: number;
  readonly toRow: number;
}

/**
 * The fitting and the removal of a booster, from the reading behind it: the level of the hours splits in two (least
 * squares on hourly medians, again within each part), and the pump's starts are found on the higher side alone. At
 * least three days on each side. `known` holds the levels of hours whose rows, those before `settledRows`, stay as they are.
 */
export function boosterChanges(
  rows: PumpRows,
  runs: readonly PumpRun[],
  known: HourLevel[] = [],
  settledRows = 0,
): Change[] {
  const hours = hourlyMedians(rows, known, settledRows);
  const changes: Change[] = [];
  const split = (from: number, to: number): void => {
    const at = bestSplit(hours, from, to);
    if (at === undefined) return;
    split(from, at);
    const change = changeAt(rows, runs, hours, from, at, to);
    if (change) changes.push(change);
    split(at, to);
  };
  split(0, hours.length);
  return changes;
}

/** Hour by hour from the last known one on; those whose rows stay as they are become known. */
function hourlyMedians(rows: PumpRows, known: HourLevel[], settledRows: number): HourLevel[] {
  const hours = [...known];
  let from = known[known.length - 1]?.toRow ?? 0;
  while (from < rows.timeMs.length) {
    const startMs = Math.floor(rows.timeMs[from]! / HOUR_MS) * HOUR_MS;
    let to = from;
    while (to < rows.timeMs.length && rows.timeMs[to]! < startMs + HOUR_MS) to++;
    const hour = { startMs, bar: median(rows.bar.subarray(from, to)), toRow: to };
    hours.push(hour);
    if (to < settledRows) known.push(hour);
    from = to;
  }
  return hours;
}

/** The best split that leaves three days on each side: with a vessel that rests low for its first night a better one lies later. */
function bestSplit(hours: readonly HourLevel[], from: number, to: number): number | undefined {
  const isLongEnough = (at: number): boolean =>
    hours[at]!.startMs - hours[from]!.startMs >= EACH_SIDE_MS - HOUR_MS &&
    hours[to - 1]!.startMs + HOUR_MS - hours[at]!.startMs >= EACH_SIDE_MS - HOUR_MS;
  let total = 0;
  for (let i = from; i < to; i++) total += hours[i]!.bar;
  let before = 0;
  let best: number | undefined;
  let bestGain = 0;
  for (let i = from + 1; i < to; i++) {
    before += hours[i - 1]!.bar;
    const left = i - from;
    const right = to - i;
    const gain = ((left * right) / (left + right)) * (before / left - (total - before) / right) ** 2;
    if (gain > bestGain && isLongEnough(i)) {
      bestGain = gain;
      best = i;
    }
  }
  return best;
}

function changeAt(
  rows: PumpRows,
  runs: readonly PumpRun[],
  hours: readonly HourLevel[],
  from: number,
  at: number,
  to: number,
): Change | undefined {
  const before = hours.slice(from, at);
  const after = hours.slice(at, to);
  const fromBar = median(before.map((hour) => hour.bar));
  const toBar = median(after.map((hour) => hour.bar));
  const size = toBar - fromBar;
  const [lower, higher] = size > 0 ? [before, after] : [after, before];
  const top = quantile(
    lower.map((hour) => hour.bar),
    1 - OVERLAP_SHARE,
  );
  const bottom = quantile(
    higher.map((hour) => hour.bar),
    OVERLAP_SHARE,
  );
  if (Math.abs(size) < LEAST_LIFT_BAR || bottom <= top) return undefined;
  const rate = (side: readonly HourLevel[]): number => {
    const startMs = side[0]!.startMs;
    const endMs = side[side.length - 1]!.startMs + HOUR_MS;
    const count = runs.filter((run) => run.startMs >= startMs && run.startMs < endMs).length;
    return (count * DAY_MS) / (side.length * HOUR_MS);
  };
  const boosted = rate(higher);
  const bare = rate(lower);
  if (boosted < LEAST_STARTS_PER_DAY || boosted < STARTS_RATIO * bare) return undefined;
  const edge = edgeOf(rows, hours[at]!.startMs, top + DIVIDING_SHARE * (bottom - top), size > 0);
  const sizeError = 2 * Math.hypot(dayError(before), dayError(after)) + rows.quantumBar / 2;
  return {
    at: formatRfc3339(edge.atMs),
    kind: 'booster',
    fromBar,
    toBar,
    sizeIntervalBar: [size - sizeError, size + sizeError],
    timeInterval: [formatRfc3339(edge.earliestMs), formatRfc3339(edge.latestMs)],
  };
}

function scatterOf(bars: readonly number[]): number {
  const middle = median(bars);
  return 1.4826 * median(bars.map((bar) => Math.abs(bar - middle)));
}

/** Standard error of a side's level from its days, which are alike while hours within a day are not. */
function dayError(hours: readonly HourLevel[]): number {
  const byDay = new Map<number, number[]>();
  for (const hour of hours) {
    const day = Math.floor((hour.startMs - hours[0]!.startMs) / DAY_MS);
    byDay.set(day, [...(byDay.get(day) ?? []), hour.bar]);
  }
  const days = [...byDay.values()].map((bars) => median(bars));
  return days.length < 2 ? 0 : scatterOf(days) / Math.sqrt(days.length);
}

/** The row from which readings lie on the new side of the dividing level, as most before it lie on the old one. */
function edgeOf(
  rows: PumpRows,
  hourMs: number,
  dividingBar: number,
  rising: boolean,
): { atMs: number; earliestMs: number; latestMs: number } {
  let best = -1;
  let bestScore = Number.NEGATIVE_INFINITY;
  let score = 0;
  let first = -1;
  for (let i = 0; i < rows.timeMs.length; i++) {
    const away = rows.timeMs[i]! - hourMs;
    if (away < -EDGE_NEAR_MS) continue;
    if (away > EDGE_NEAR_MS) break;
    if (first < 0) first = i;
    if (score > bestScore) {
      bestScore = score;
      best = i;
    }
    score += rows.bar[i]! > dividingBar === rising ? -1 : 1;
  }
  if (best < 0) return { atMs: hourMs, earliestMs: hourMs - HOUR_MS, latestMs: hourMs + HOUR_MS };
  const earliestMs = rows.timeMs[Math.max(0, best - 1)]!;
  return { atMs: rows.timeMs[best]!, earliestMs, latestMs: rows.timeMs[best]! };
}

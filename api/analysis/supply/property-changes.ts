import { changeInterval } from '../statistics/bootstrap.ts';
import { likelySplits } from '../statistics/change-point.ts';
import { mean } from '../statistics/moments.ts';
import { median } from '../statistics/quantile.ts';
import { LASTING_MS, type LevelChange } from './level-changes.ts';
import type { OwnDraw } from './own-draw.ts';
import type { StandingPressure } from './standing-pressure.ts';
import type { TapLaw } from './tap-law.ts';

/** Falls must change by this factor at least: households vary from week to week. */
const LEAST_FACTOR = 1.25;
const FEWEST_DRAWS = 12;
/** The greatest draws of each day are compared: small ones rise above what can be found when a loss grows. */
const GREATEST_A_DAY = 5;
/** Running pressures are those of draws of at least this share of a great one: a trickle has none to speak of. */
const COMPARED_SHARE = 0.4;
const DAY_MS = 86_400_000;
/** Chance at which the draws are no longer alike before and after (Pettitt's test). */
const MOST_CHANCE = 1e-4;
/** Shorter draws are too rough a measure. */
const SHORTEST_DRAW_MS = 10_000;
const EXPONENT = 1.852;

/**
 * A lasting change of the pressure delivered while drawing, at unchanged standing pressure: a stop tap, a strainer, a
 * pipe. Each draw's fall is put in relation to the running pressure by the tap's law (or to the flow, where metered), so
 * that a change of the street doesn't count; Pettitt's rank test on each day's greatest finds the time (Applied Statistics 28(2), 1979, 126–135).
 */
export function findPropertyChange(
  draws: readonly OwnDraw[],
  standing: StandingPressure,
  law: TapLaw,
): LevelChange | undefined {
  const all: { atMs: number; size: number; runningBar: number; weight: number }[] = [];
  for (const draw of draws) {
    const lengthMs = draw.endMs - draw.startMs;
    if (!draw.whole || lengthMs < SHORTEST_DRAW_MS || !(draw.dropBar > 0)) continue;
    const point = Math.round(((draw.startMs + draw.endMs) / 2 - standing.startMs) / standing.stepMs);
    const bar = standing.bar[point];
    if (bar === undefined || Number.isNaN(bar)) continue;
    const runningBar = bar - draw.dropBar;
    const size =
      draw.meanLpm === undefined
        ? draw.dropBar / Math.max(0.05, runningBar - law.heightBar) ** law.exponent
        : draw.dropBar / draw.meanLpm ** EXPONENT;
    all.push({ atMs: draw.startMs, size, runningBar, weight: lengthMs });
  }
  const used = greatestADay(all);
  const n = used.length;
  if (n < 2 * FEWEST_DRAWS) return undefined;
  const ranks = ranksOf(used.map((draw) => draw.size));
  let sum = 0;
  let greatest = 0;
  let at = 0;
  for (let t = 0; t < n - 1; t++) {
    sum += 2 * ranks[t]! - (n + 1);
    if (Math.abs(sum) > Math.abs(greatest)) {
      greatest = sum;
      at = t + 1;
    }
  }
  const chance = 2 * Math.exp((-6 * greatest * greatest) / (n ** 3 + n ** 2));
  const before = used.slice(0, at);
  const after = used.slice(at);
  if (chance > MOST_CHANCE || before.length < FEWEST_DRAWS || after.length < FEWEST_DRAWS) return undefined;
  const atMs = after[0]!.atMs;
  if (atMs - used[0]!.atMs < LASTING_MS || used[n - 1]!.atMs - atMs < LASTING_MS) return undefined;
  const factor = median(after.map((d) => d.size)) / median(before.map((d) => d.size));
  if (Math.max(factor, 1 / factor) < LEAST_FACTOR) return undefined;
  const changedMs = (before.at(-1)!.atMs + atMs) / 2;
  const usual = (draws: readonly { size: number }[]) => COMPARED_SHARE * median(draws.map((draw) => draw.size));
  const [leastBefore, leastAfter] = [usual(before), usual(after)];
  const fromBar = weightedMedian(all.filter((draw) => draw.atMs < changedMs && draw.size >= leastBefore));
  const toBar = weightedMedian(all.filter((draw) => draw.atMs >= changedMs && draw.size >= leastAfter));
  const size = toBar - fromBar;
  const days = (isAfter: boolean, least: number) =>
    dailyRunning(all.filter((draw) => draw.atMs >= changedMs === isAfter && draw.size >= least));
  const daysBefore = days(false, leastBefore);
  const daysAfter = days(true, leastAfter);
  const about = changeInterval(daysBefore, daysAfter);
  // The days' own medians weigh each day alike; their spread is laid about the size told.
  const shift = size - (mean(daysAfter) - mean(daysBefore));
  const likely = likelySplits(
    used.map((draw) => Math.log(draw.size)),
    FEWEST_DRAWS,
    1,
  );
  return {
    atMs: changedMs,
    fromBar,
    toBar,
    sizeIntervalBar: about ? [about[0] + shift, about[1] + shift] : [size, size],
    timeIntervalMs: [
      Math.min(before.at(-1)!.atMs, used[likely.first - 1]!.atMs),
      Math.max(atMs, used[Math.min(n - 1, likely.last)]!.atMs),
    ],
  };
}

function greatestADay<T extends { readonly atMs: number; readonly size: number }>(draws: readonly T[]): T[] {
  const days = new Map<number, T[]>();
  for (const draw of draws) {
    const day = Math.floor(draw.atMs / DAY_MS);
    days.set(day, [...(days.get(day) ?? []), draw]);
  }
  return [...days.values()]
    .flatMap((of) => of.sort((a, b) => b.size - a.size).slice(0, GREATEST_A_DAY))
    .sort((a, b) => a.atMs - b.atMs);
}

function ranksOf(values: readonly number[]): Float64Array {
  const order = values.map((_, i) => i).sort((a, b) => values[a]! - values[b]!);
  const ranks = new Float64Array(values.length);
  order.forEach((index, position) => {
    ranks[index] = position + 1;
  });
  return ranks;
}

function weightedMedian(draws: readonly { runningBar: number; weight: number }[]): number {
  const sorted = [...draws].sort((a, b) => a.runningBar - b.runningBar);
  const half = sorted.reduce((sum, d) => sum + d.weight, 0) / 2;
  let passed = 0;
  for (const draw of sorted) {
    passed += draw.weight;
    if (passed >= half) return draw.runningBar;
  }
  return Number.NaN;
}

/** The weighted median running pressure of each day. */
function dailyRunning(draws: readonly { atMs: number; runningBar: number; weight: number }[]): number[] {
  const days = new Map<number, { runningBar: number; weight: number }[]>();
  for (const draw of draws) {
    const day = Math.floor(draw.atMs / DAY_MS);
    days.set(day, [...(days.get(day) ?? []), draw]);
  }
  return [...days.values()].map(weightedMedian);
}

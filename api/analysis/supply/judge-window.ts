import { quantile } from '../statistics/quantile.ts';
import { COVERAGE_FACTOR } from '../uncertainty/combine.ts';
import type { WindowJudgement } from './sags.ts';
import type { StandingPressure } from './standing-pressure.ts';

export const MEAN_MS = 300_000;
/** The recovery may run this far past the window. */
export const RECOVERY_MS = 3_600_000;
/** A sag's beginning is looked for this far before its window. */
const LOOKED_BACK_MS = 4 * 3_600_000;
/** Share of the night, and of the window, that must be known to say what was not there. */
const LEAST_NIGHT_SHARE = 0.5;
const LEAST_WINDOW_SHARE = 0.85;
/** A shorter fall that hardly a reading outside draws shows is in their books: such minutes are not known. */
const SHORTEST_UNSEEN_MS = 600_000;
const UNSEEN_SHARE = 0.6;
/** Readings outside draws leave a depth in less doubt than this; it is told as it was measured. */
const LEAST_DOUBT_BAR = 0.03;
/** A shorter stretch that isn't known could not hide a sag of its own. */
const LONGEST_HIDING_MS = 1_800_000;

/** What is told of one window of one day. */
export type Judged = Pick<
  WindowJudgement,
  | 'state'
  | 'reason'
  | 'startMs'
  | 'lowestMs'
  | 'endMs'
  | 'depthBar'
  | 'depthSdBar'
  | 'lowestBar'
  | 'startsBefore'
  | 'recovered'
>;

/**
 * Judges [fromMs, toMs) of one day against its night: the definitions' sag, whatever the hours. Where the
 * household's draws leave in doubt how deep it was, its depth less the expanded uncertainty (k = 2) must be deep enough, too.
 */
export function judgeWindow(
  standing: StandingPressure,
  mean: Float64Array,
  night: { bar: number; sdBar: number },
  fromMs: number,
  toMs: number,
  minDepthBar: number,
): Judged {
  const lowest = lowestIn(standing, mean, fromMs, toMs);
  if (!lowest) return { state: 'unknown', reason: 'nothing is known of this window' };
  const depthBar = night.bar - lowest.bar;
  const depthSdBar = Math.hypot(night.sdBar, lowest.sdBar);
  if (depthBar < minDepthBar) {
    if (lowest.knownShare < LEAST_WINDOW_SHARE || lowest.longestUnknownMs > LONGEST_HIDING_MS) {
      const known = Math.round(100 * lowest.knownShare);
      return { state: 'unknown', reason: `standing pressure is known for ${known} % of this window only`, depthBar };
    }
    return { state: 'absent', depthBar, depthSdBar, lowestBar: lowest.bar };
  }
  const half = night.bar - depthBar / 2;
  const start = crossing(standing, mean, lowest.index, -1, half, fromMs - LOOKED_BACK_MS);
  const end = crossing(standing, mean, lowest.index, 1, half, toMs + RECOVERY_MS);
  if (end.atMs - start.atMs < SHORTEST_UNSEEN_MS && isUnseen(standing, start.atMs, end.atMs)) {
    const without = mean.slice();
    const [first, after] = indexRange(standing, start.atMs, end.atMs);
    without.fill(Number.NaN, Math.min(first, lowest.index), Math.max(after, lowest.index + 1));
    return judgeWindow(standing, without, night, fromMs, toMs, minDepthBar);
  }
  const doubtBar = COVERAGE_FACTOR * depthSdBar;
  const lowestMs = standing.startMs + lowest.index * standing.stepMs;
  if (depthBar - doubtBar < minDepthBar && doubtBar > LEAST_DOUBT_BAR) {
    const [fell, about] = [depthBar, doubtBar].map((bar) => bar.toFixed(2));
    return {
      state: 'unknown',
      reason: `the household was drawing: standing pressure behind its draws fell by ${fell} ± ${about} bar`,
      depthBar,
      depthSdBar,
    };
  }
  return {
    state: 'present',
    startMs: start.atMs,
    lowestMs,
    endMs: end.atMs,
    depthBar,
    depthSdBar,
    lowestBar: lowest.bar,
    ...(start.atMs < fromMs || !start.reached ? { startsBefore: true } : {}),
    ...(end.reached ? {} : { recovered: false }),
  };
}

/** Whether most points of a span were carried or bridged through draws. */
function isUnseen(standing: StandingPressure, fromMs: number, toMs: number): boolean {
  const [from, to] = indexRange(standing, fromMs, toMs);
  const points = standing.interpolated.subarray(Math.max(0, from), to);
  return points.reduce((carried, is) => carried + is, 0) >= UNSEEN_SHARE * points.length;
}

/** 5-minute mean about each point, over what is known of it; NaN where less than half is. */
export function slidingMean({ bar, stepMs }: StandingPressure): Float64Array {
  const reach = Math.floor(MEAN_MS / stepMs / 2);
  const mean = new Float64Array(bar.length).fill(Number.NaN);
  for (let j = 0; j < bar.length; j++) {
    let sum = 0;
    let n = 0;
    for (let k = Math.max(0, j - reach); k <= Math.min(bar.length - 1, j + reach); k++) {
      if (!Number.isNaN(bar[k]!)) {
        sum += bar[k]!;
        n++;
      }
    }
    if (2 * n > 2 * reach && !Number.isNaN(bar[j]!)) mean[j] = sum / n;
  }
  return mean;
}

/** Points of [fromMs, toMs): the first, and the one after the last. */
export function indexRange(standing: StandingPressure, fromMs: number, toMs: number): [number, number] {
  const first = Math.ceil((fromMs - standing.startMs) / standing.stepMs);
  const after = Math.ceil((toMs - standing.startMs) / standing.stepMs);
  return [first, after];
}

/** Median of a night's standing pressure; undefined where less than half of the night is known. */
export function level(
  standing: StandingPressure,
  fromMs: number,
  toMs: number,
): { bar: number; sdBar: number } | undefined {
  const [from, to] = indexRange(standing, fromMs, toMs);
  const values: number[] = [];
  let sd = 0;
  for (let j = Math.max(0, from); j < Math.min(to, standing.bar.length); j++) {
    if (Number.isNaN(standing.bar[j]!)) continue;
    values.push(standing.bar[j]!);
    sd += standing.sdBar[j]!;
  }
  if (values.length < LEAST_NIGHT_SHARE * (to - from) || values.length === 0) return undefined;
  // Standard error of a median of correlated minutes: as of one independent value in ten.
  const spread = quantile(values, 0.84) - quantile(values, 0.16);
  return {
    bar: quantile(values, 0.5),
    sdBar: Math.hypot(sd / values.length / Math.sqrt(10), (0.63 * spread) / Math.sqrt(values.length / 10)),
  };
}

interface Lowest {
  readonly index: number;
  readonly bar: number;
  readonly sdBar: number;
  readonly knownShare: number;
  readonly longestUnknownMs: number;
}

function lowestIn(standing: StandingPressure, mean: Float64Array, fromMs: number, toMs: number): Lowest | undefined {
  const [from, to] = indexRange(standing, fromMs, toMs);
  let index = -1;
  let known = 0;
  let unknown = 0;
  let longest = 0;
  for (let j = from; j < to; j++) {
    const value = j >= 0 && j < mean.length ? mean[j]! : Number.NaN;
    if (Number.isNaN(value)) {
      unknown++;
      longest = Math.max(longest, unknown);
      continue;
    }
    unknown = 0;
    known++;
    if (index < 0 || value < mean[index]!) index = j;
  }
  if (index < 0) return undefined;
  return {
    index,
    bar: mean[index]!,
    sdBar: meanSdBar(standing, index),
    knownShare: known / Math.max(1, to - from),
    longestUnknownMs: longest * standing.stepMs,
  };
}

/** Of a 5-minute mean: what the account of a draw leaves open is common to its minutes, so that none of it averages out. */
function meanSdBar({ sdBar, bar, stepMs }: StandingPressure, index: number): number {
  const reach = Math.floor(MEAN_MS / stepMs / 2);
  let sum = 0;
  let n = 0;
  for (let k = Math.max(0, index - reach); k <= Math.min(bar.length - 1, index + reach); k++) {
    if (Number.isNaN(bar[k]!)) continue;
    sum += sdBar[k]!;
    n++;
  }
  return sum / n;
}

function crossing(
  standing: StandingPressure,
  mean: Float64Array,
  lowest: number,
  side: -1 | 1,
  half: number,
  limitMs: number,
): { atMs: number; reached: boolean } {
  let last = lowest;
  for (let j = lowest + side; j >= 0 && j < mean.length; j += side) {
    const atMs = standing.startMs + j * standing.stepMs;
    if (side < 0 ? atMs < limitMs : atMs > limitMs) break;
    const value = mean[j]!;
    if (Number.isNaN(value)) continue;
    if (value >= half) {
      const share = (half - mean[last]!) / (value - mean[last]!);
      return { atMs: standing.startMs + (last + share * (j - last)) * standing.stepMs, reached: true };
    }
    last = j;
  }
  return { atMs: standing.startMs + last * standing.stepMs, reached: false };
}

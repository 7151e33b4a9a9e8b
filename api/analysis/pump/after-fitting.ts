import type { FittingAnswer } from '../findings.ts';
import { hodgesLehmann, type SignedRank, wilcoxonSignedRank } from '../statistics/paired.ts';
import { median, quantileOfSorted } from '../statistics/quantile.ts';

/** An outlet read before and after the fitting, in one unit (bar running, or l/min). */
export interface OutletPair {
  readonly outlet: string;
  readonly before: number;
  readonly after: number;
}

export interface OutletComparison {
  readonly differences: readonly { readonly outlet: string; readonly difference: number }[];
  /** Hodges–Lehmann estimate of the gain; undefined without pairs. */
  readonly gain: number | undefined;
  /** 95 % interval of the gain by resampling the outlets. */
  readonly interval: readonly [number, number] | undefined;
  readonly test: SignedRank;
  readonly answer: FittingAnswer;
}

export interface PressureComparison {
  readonly fromBar: number;
  readonly toBar: number;
  readonly gainBar: number;
  /**
   * 95 % interval by resampling whole days on either side: hours of a day are alike, days much less. Undefined with fewer
   * than three days a side: so few can't show how much days differ, and resampling one day gives no width at all.
   */
  readonly interval: readonly [number, number] | undefined;
  readonly answer: FittingAnswer;
}

const RESAMPLES = 4_000;
const TAIL = 0.025;
const FEWEST_PAIRS = 3;
const FEWEST_DAYS = 3;

/** Before and after at every outlet of a visit: how much was gained, and is it more than chance. Pure: no random source. */
export function compareOutlets(pairs: readonly OutletPair[]): OutletComparison {
  const differences = pairs.map(({ outlet, before, after }) => ({ outlet, difference: after - before }));
  const gains = differences.map(({ difference }) => difference);
  const few = gains.length < FEWEST_PAIRS;
  const interval = few ? undefined : intervalOf((pick) => median(resampled(gains, pick)));
  return {
    differences,
    gain: gains.length === 0 ? undefined : hodgesLehmann(gains),
    interval,
    test: wilcoxonSignedRank(gains),
    answer: answerOf(interval),
  };
}

/**
 * The logged pressure before and after: medians of daily figures, the interval of their difference by a block bootstrap
 * whose blocks are days (Davison and Hinkley 1997, chapter 8, from memory).
 */
export function comparePressure(
  beforeDaysBar: readonly number[],
  afterDaysBar: readonly number[],
): PressureComparison | undefined {
  if (beforeDaysBar.length === 0 || afterDaysBar.length === 0) return undefined;
  const fromBar = median(beforeDaysBar);
  const toBar = median(afterDaysBar);
  const few = Math.min(beforeDaysBar.length, afterDaysBar.length) < FEWEST_DAYS;
  const interval = few
    ? undefined
    : intervalOf((pick) => median(resampled(afterDaysBar, pick)) - median(resampled(beforeDaysBar, pick)));
  return { fromBar, toBar, gainBar: toBar - fromBar, interval, answer: answerOf(interval) };
}

function answerOf(interval: readonly [number, number] | undefined): FittingAnswer {
  if (!interval) return 'too few readings';
  if (interval[0] > 0) return 'worked';
  return interval[1] < 0 ? 'made it worse' : 'no change shown';
}

/** The same resamples on every call: a fixed multiplicative sequence (Lehmer, Park and Miller 1988), not a random source. */
function intervalOf(statistic: (pick: (count: number) => number) => number): readonly [number, number] {
  let state = 20_231;
  const pick = (count: number): number => {
    state = (state * 48_271) % 2_147_483_647;
    return Math.floor((state / 2_147_483_647) * count);
  };
  const values = Float64Array.from({ length: RESAMPLES }, () => statistic(pick)).sort();
  return [quantileOfSorted(values, TAIL), quantileOfSorted(values, 1 - TAIL)];
}

function resampled(values: readonly number[], pick: (count: number) => number): number[] {
  return values.map(() => values[pick(values.length)]!);
}

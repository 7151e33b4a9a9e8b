import { quantileOfSorted } from './quantile.ts';

/** Resamples that a 95 % percentile interval rests on: its ends are then the 10th from either end. */
export const RESAMPLES = 399;

/**
 * Whole numbers from 0 to `below` − 1 in a fixed order that looks random: Marsaglia's xorshift (J. Stat. Softw. 8(14), 2003,
 * triple 13, 17, 5). Intervals are the same each time they are made.
 */
export function drawnIndices(seed = 2_463_534_242): (below: number) => number {
  let state = seed >>> 0 || 1;
  return (below) => {
    state ^= state << 13;
    state >>>= 0;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return Math.floor((state / 4_294_967_296) * below);
  };
}

/**
 * Statistic of resamples of whole clusters (days, draws), drawn with replacement: what belongs together stays together, so
 * that neighbours that are alike don't make an interval narrow (Efron and Tibshirani 1993, chapters 8 and 13).
 * @param statistic of how often each cluster was drawn; NaN where a resample can't tell
 * @returns values in ascending order, those that couldn't be told left out
 */
export function bootstrapValues(
  clusters: number,
  statistic: (times: Uint16Array) => number,
  resamples = RESAMPLES,
): Float64Array {
  const draw = drawnIndices();
  const times = new Uint16Array(clusters);
  const values: number[] = [];
  for (let r = 0; r < resamples; r++) {
    times.fill(0);
    for (let c = 0; c < clusters; c++) times[draw(clusters)]!++;
    const value = statistic(times);
    if (Number.isFinite(value)) values.push(value);
  }
  return Float64Array.from(values).sort();
}

/** The 95 % percentile interval of resampled values; undefined below twenty of them. */
export function percentileInterval(sorted: Float64Array): readonly [number, number] | undefined {
  if (sorted.length < 20) return undefined;
  return [quantileOfSorted(sorted, 0.025), quantileOfSorted(sorted, 0.975)];
}

/** What an interval from few values must be wider by than for many: Student's t (95 %, two-sided) by degrees of freedom, over 1.96. */
const STUDENT_95 = [12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228];

function widerBy(degrees: number): number {
  return (STUDENT_95[degrees - 1] ?? 1.96 + 2.4 / degrees) / 1.96;
}

/**
 * 95 % interval of the change of a mean from one group of days to another: both groups resampled, percentiles about the
 * difference found, widened as few days ask for. Undefined below two values in a group.
 */
export function changeInterval(
  before: readonly number[],
  after: readonly number[],
): readonly [number, number] | undefined {
  const [n, m] = [before.length, after.length];
  if (n < 2 || m < 2) return undefined;
  const draw = drawnIndices();
  const meanOf = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  const resampled = (values: readonly number[]) => meanOf(values.map(() => values[draw(values.length)]!));
  const found = meanOf(after) - meanOf(before);
  const changes = Float64Array.from({ length: RESAMPLES }, () => resampled(after) - resampled(before)).sort();
  // Resamples of n values vary by (n − 1)/n too little.
  const wider = widerBy(n + m - 2) * Math.sqrt((n + m) / (n + m - 2));
  return [
    found + wider * (quantileOfSorted(changes, 0.025) - found),
    found + wider * (quantileOfSorted(changes, 0.975) - found),
  ];
}

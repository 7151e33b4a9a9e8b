import { wilcoxonSignedRank } from '../statistics/paired.ts';

/** Rarer than one time in twenty by chance is called firm: the customary level of a test (common practice, no source). */
export const FIRM_P = 0.05;
/** Nobody leaves a logger at a stop tap much longer than four weeks to settle a doubt: common practice, no source. */
export const LONGEST_WAIT_DAYS = 28;
/** So many weekdays lie in those four weeks; of weekend days there are fewer. */
const MOST_DAYS_OF_A_KIND = 20;

/** Days of one mind that make a statement firm: the least n with 2⁻ⁿ < `FIRM_P`, by the sign test and the signed rank. */
export const UNANIMOUS_DAYS = Math.floor(Math.log2(1 / FIRM_P)) + 1;

/**
 * How many more days make "deeper than midday" firm if they are like those seen: the fewest whose differences, repeated
 * in the proportion seen, bring Wilcoxon's one-sided p under `FIRM_P`. 0 exactly where it is under it already; null
 * where four weeks of such days wouldn't do.
 * @param differences in bar, one a judged day
 */
export function daysToFirm(differences: readonly number[]): number | null {
  const seen = differences.filter(Number.isFinite).sort((a, b) => a - b);
  if (seen.length === 0) return UNANIMOUS_DAYS;
  for (let more = 0; more <= MOST_DAYS_OF_A_KIND; more++) {
    if (wilcoxonSignedRank([...seen, ...inProportion(seen, more)]).greaterP < FIRM_P) return more;
  }
  return null;
}

/** So many values spread evenly over the order of those seen. */
export function inProportion(sorted: readonly number[], count: number): number[] {
  return Array.from({ length: count }, (_, i) => sorted[Math.floor(((i + 0.5) * sorted.length) / count)]!);
}

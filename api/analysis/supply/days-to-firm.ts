import { mcnemarGreaterP } from '../statistics/counts.ts';
import type { WindowJudgement } from './sags.ts';

/** Rarer than one time in twenty by chance is called firm: the customary level of a test (common practice, no source). */
export const FIRM_P = 0.05;
/** Nobody leaves a logger at a stop tap much longer than four weeks to settle a doubt: common practice, no source. */
export const LONGEST_WAIT_DAYS = 28;
/** So many weekdays lie in those four weeks; of weekend days there are fewer. */
const MOST_DAYS_OF_A_KIND = 20;

/** Days of one mind that make a statement firm: the least n with 2⁻ⁿ < `FIRM_P`, by the sign test. */
export const UNANIMOUS_DAYS = Math.floor(Math.log2(1 / FIRM_P)) + 1;

/** A day beside its own midday: 1 fell so far in the window only, −1 at midday only, 0 in both or in neither. */
export type DayAgainstMidday = 1 | 0 | -1;

/** Undefined where the window or the midday can't be told. */
export function againstMidday({ state, midday }: WindowJudgement): DayAgainstMidday | undefined {
  if (state === 'unknown' || midday === undefined || midday === 'unknown') return undefined;
  if (state === midday) return 0;
  return state === 'present' ? 1 : -1;
}

/** Days that fell so far in the window only, and at midday only, and McNemar's chance of the former's being so many. */
export function middayChance(days: readonly DayAgainstMidday[]): { onlyHere: number; onlyMidday: number; p: number } {
  const onlyHere = days.filter((day) => day === 1).length;
  const onlyMidday = days.filter((day) => day === -1).length;
  return { onlyHere, onlyMidday, p: mcnemarGreaterP(onlyHere, onlyMidday) };
}

/**
 * How many more days make "sags oftener than midday" firm if they are like those seen: the fewest that, repeated in the
 * proportion seen, bring McNemar's one-sided p under `FIRM_P`. 0 exactly where it is under it already; null where four
 * weeks of such days wouldn't do.
 * @param days one entry a judged day
 */
export function daysToFirm(days: readonly DayAgainstMidday[]): number | null {
  const seen = [...days].sort((a, b) => a - b);
  if (seen.length === 0) return UNANIMOUS_DAYS;
  for (let more = 0; more <= MOST_DAYS_OF_A_KIND; more++) {
    if (middayChance([...seen, ...inProportion(seen, more)]).p < FIRM_P) return more;
  }
  return null;
}

/** So many values spread evenly over the order of those seen. */
export function inProportion<T>(sorted: readonly T[], count: number): T[] {
  return Array.from({ length: count }, (_, i) => sorted[Math.floor(((i + 0.5) * sorted.length) / count)]!);
}

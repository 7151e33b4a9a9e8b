import type { FindingsDocument } from '../findings.ts';
import type { LowPeriod } from './low-supply.ts';

/** Two starts no further apart than this make a pair. */
export const PAIR_WITHIN_MS = 28 * 24 * 3_600_000;

export const PAIR_INTERPRETATION =
  'Two occasions pair when their starts lie no more than 28 × 24 hours apart (a rolling window; two on one day count). ' +
  'An occasion is a low-supply period of at least 60 minutes, at least 90 % of it below the threshold; those of a pair are ' +
  'certain, so below the threshold less the expanded uncertainty (k = 2) for at least a minute. This is the program’s reading of the rule, not the rule’s own words.';

/** Qualifying periods, and pairs of those that are marked certain; indices into the list of periods. */
export function qualifyingPairs(periods: readonly LowPeriod[]): FindingsDocument['qualifying'] {
  const occasions = periods.flatMap((period, index) => (period.qualifying ? [index] : []));
  const sure = occasions.filter((index) => periods[index]!.certain);
  const pairs: [number, number][] = [];
  sure.forEach((first, i) => {
    for (const second of sure.slice(i + 1)) {
      if (periods[second]!.startMs - periods[first]!.startMs <= PAIR_WITHIN_MS) pairs.push([first, second]);
    }
  });
  return { occasions, pairs, interpretation: PAIR_INTERPRETATION };
}

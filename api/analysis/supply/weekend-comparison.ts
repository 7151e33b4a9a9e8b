import type { SagComparison, SagSummary } from '../findings.ts';
import { fisherExact } from '../statistics/counts.ts';
import { FIRM_P, LONGEST_WAIT_DAYS } from './days-to-firm.ts';
import { FEWEST_DAYS_OF_A_PATTERN } from './sag-summary.ts';

const MOST_WEEKS = LONGEST_WAIT_DAYS / 7;
/** Weekdays and weekend days of a week. */
const DAYS_OF_A_WEEK = [5, 2] as const;

/** Weekdays against weekend days, for each window that sagged more than once and was judged on both kinds of day. */
export function compareWeekends(summaries: readonly SagSummary[]): SagComparison[] {
  return (['morning', 'evening'] as const).flatMap((window) => {
    const of = (days: SagSummary['days']) => summaries.find((s) => s.window === window && s.days === days);
    const weekdays = of('weekdays');
    const weekend = of('weekend');
    if (!weekdays?.judged || !weekend?.judged) return [];
    if (weekdays.present + weekend.present < FEWEST_DAYS_OF_A_PATTERN) return [];
    const present = [weekdays.present, weekend.present] as const;
    const judged = [weekdays.judged, weekend.judged] as const;
    const { p } = fisherExact({ with: present, of: judged });
    return [
      {
        window,
        p,
        test: 'Fisher, exact, two-sided: days with a sag among weekdays and among weekend days',
        differ: p < FIRM_P,
        weeksToTell: weeksToTell(present, judged),
      },
    ];
  });
}

/** The fewest more whole weeks that would tell the two apart if they went on like those seen; null beyond four. */
function weeksToTell(present: readonly [number, number], judged: readonly [number, number]): number | null {
  for (let weeks = 0; weeks <= MOST_WEEKS; weeks++) {
    const of = [judged[0] + weeks * DAYS_OF_A_WEEK[0], judged[1] + weeks * DAYS_OF_A_WEEK[1]] as const;
    const grown = [Math.round((present[0] * of[0]) / judged[0]), Math.round((present[1] * of[1]) / judged[1])] as const;
    if (fisherExact({ with: grown, of }).p < FIRM_P) return weeks;
  }
  return null;
}

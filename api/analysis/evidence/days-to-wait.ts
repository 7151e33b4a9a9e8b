import type { SagSummary } from '../findings.ts';
import { LONGEST_WAIT_DAYS } from '../supply/days-to-firm.ts';

const SATURDAY = 6;
/** From so many days on, the share of them that could be judged tells how many of the coming ones will be. */
const DAYS_THAT_TELL = 5;

/**
 * Calendar days of logging until so many more days of a summary's kind are judged, beginning with the day after the
 * log's last. Days that can't be judged are expected as often as they came. null: beyond four weeks.
 * @param lastWeekday of the log's last local day, 1 is Monday
 */
export function calendarDays(summary: SagSummary, lastWeekday: number): number | null {
  const { daysToFirm, judged, unknown, days } = summary;
  if (daysToFirm === 0 || daysToFirm === null) return daysToFirm;
  const share = judged + unknown >= DAYS_THAT_TELL ? judged / (judged + unknown) : 1;
  const wanted = daysToFirm / share;
  let come = 0;
  for (let day = 1; day <= LONGEST_WAIT_DAYS; day++) {
    const weekday = ((lastWeekday - 1 + day) % 7) + 1;
    if (weekday >= SATURDAY === (days === 'weekend')) come++;
    if (come >= wanted) return day;
  }
  return null;
}

import type { SiteResource } from '../../api/contract/payloads.ts';
import { dateAndClock } from '../format.ts';
import { createSiteTime } from '../site-time.ts';

const DAY_MS = 86_400_000;
/** A hundred years: the server takes no more. */
const MOST_DAYS = 36_525;

/** The days that were typed; null for good. A sentence where they are none. */
export function readKeepDays(typed: string): number | null | string {
  const text = typed.trim();
  if (text === '') return null;
  const days = /^\d{1,6}$/.test(text) ? Number(text) : 0;
  if (days >= 1 && days <= MOST_DAYS) return days;
  return `The days to keep single readings read “${typed}”. Enter whole days from 1 to ${MOST_DAYS}, for example 400, or leave it empty to keep them for good.`;
}

/** What saving would erase at once, in a sentence; undefined where nothing that stands now. */
export function lossWords(
  site: Pick<SiteResource, 'first' | 'keepRawDays' | 'timeZone'>,
  days: number | null,
  nowMs: number,
): string | undefined {
  if (days === null || site.first === null) return undefined;
  const keptMs = site.keepRawDays === null ? Number.NEGATIVE_INFINITY : nowMs - site.keepRawDays * DAY_MS;
  const fromMs = Math.max(Date.parse(site.first), keptMs);
  const untilMs = nowMs - days * DAY_MS;
  if (untilMs <= fromMs) return undefined;
  const time = createSiteTime(site.timeZone);
  return `Saving this erases every single reading from ${dateAndClock(fromMs, time)} to ${dateAndClock(untilMs, time)} for good. What was found there, and letters about it, can’t be made again: keep the letter, the CSV or a backup first.`;
}

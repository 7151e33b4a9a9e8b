import { DateTime, IANAZone } from 'luxon';
import type { EpochMs } from './units.ts';

export function isTimeZone(name: string): boolean {
  return name.length <= 64 && IANAZone.isValidZone(name);
}

/** Calendar date `YYYY-MM-DD` at the site. */
export function localDate(atMs: EpochMs, timeZone: string): string {
  return DateTime.fromMillis(atMs, { zone: timeZone }).toFormat('yyyy-MM-dd');
}

/** Start of the site's local day that holds `atMs`. */
export function startOfLocalDay(atMs: EpochMs, timeZone: string): EpochMs {
  return DateTime.fromMillis(atMs, { zone: timeZone }).startOf('day').toMillis();
}

/**
 * The instant at which the site's clock shows `hour:minute` on a calendar date (`YYYY-MM-DD`). A time that the spring
 * change skips is the instant after the change; of one that the autumn change repeats, the first.
 */
export function instantOfLocal(date: string, hour: number, minute: number, timeZone: string): EpochMs {
  const [year, month, day] = date.split('-').map(Number);
  if (hour === 24) return startOfNextLocalDay(instantOfLocal(date, 12, 0, timeZone), timeZone);
  const local = { year: year!, month: month!, day: day!, hour, minute };
  const found = DateTime.fromObject(local, { zone: timeZone });
  const hourBefore = found.minus({ hours: 1 });
  if (hourBefore.hour === found.hour && hourBefore.minute === found.minute) return hourBefore.toMillis();
  return found.toMillis();
}

/** Start of the local day after the one that holds `atMs`: 23, 24 or 25 hours after the day's start. */
export function startOfNextLocalDay(atMs: EpochMs, timeZone: string): EpochMs {
  return DateTime.fromMillis(atMs, { zone: timeZone }).startOf('day').plus({ days: 1 }).startOf('day').toMillis();
}

/** The local days that touch [fromMs, toMs): date, start, end (exclusive) and ISO weekday (1 is Monday). */
export function localDays(
  fromMs: EpochMs,
  toMs: EpochMs,
  timeZone: string,
): { date: string; startMs: EpochMs; endMs: EpochMs; weekday: number }[] {
  const days: { date: string; startMs: EpochMs; endMs: EpochMs; weekday: number }[] = [];
  let at = startOfLocalDay(fromMs, timeZone);
  while (at < toMs) {
    const end = startOfNextLocalDay(at, timeZone);
    const day = DateTime.fromMillis(at, { zone: timeZone });
    days.push({ date: day.toFormat('yyyy-MM-dd'), startMs: at, endMs: end, weekday: day.weekday });
    at = end;
  }
  return days;
}

/** Minutes east of UTC at that instant. */
export function utcOffsetMinutes(atMs: EpochMs, timeZone: string): number {
  return DateTime.fromMillis(atMs, { zone: timeZone }).offset;
}

/** Clock and calendar as the site shows them, in luxon's tokens (`HH:mm`, `cccc d LLLL yyyy`), in English. */
export function localText(atMs: EpochMs, timeZone: string, pattern: string): string {
  return DateTime.fromMillis(atMs, { zone: timeZone, locale: 'en-GB' }).toFormat(pattern);
}

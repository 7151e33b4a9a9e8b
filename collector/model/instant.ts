import type { EpochMs } from './units.ts';

// RFC 3339 section 5.6: full-date "T" partial-time offset; lower-case t and z are allowed in input (section 5.6, note).
const RFC3339 = /^(\d{4})-(\d{2})-(\d{2})[Tt](\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,12}))?(?:([Zz])|([+-])(\d{2}):(\d{2}))$/;

/**
 * Reads an RFC 3339 date-time, to the millisecond (further digits are cut off). A leap second reads as the second
 * before it. Undefined where the text isn't one or the day doesn't exist (30 February).
 */
export function parseRfc3339(text: string): EpochMs | undefined {
  const match = RFC3339.exec(text);
  if (!match) return undefined;
  const [
    ,
    yearText,
    monthText,
    dayText,
    hourText,
    minuteText,
    secondText,
    fraction,
    zulu,
    sign,
    offsetHour,
    offsetMinute,
  ] = match;
  const year = Number(yearText);
  const month = Number(monthText);
  const day = Number(dayText);
  const hour = Number(hourText);
  const minute = Number(minuteText);
  const second = Math.min(Number(secondText), 59);
  if (month < 1 || month > 12 || day < 1 || hour > 23 || minute > 59 || Number(secondText) > 60) return undefined;
  if (day > daysInMonth(year, month)) return undefined;
  let offsetMinutes = 0;
  if (zulu === undefined) {
    if (Number(offsetHour) > 23 || Number(offsetMinute) > 59) return undefined;
    offsetMinutes = (Number(offsetHour) * 60 + Number(offsetMinute)) * (sign === '-' ? -1 : 1);
  }
  const milliseconds = fraction === undefined ? 0 : Number(`${fraction}000`.slice(0, 3));
  const date = new Date(0);
  date.setUTCFullYear(year, month - 1, day);
  date.setUTCHours(hour, minute, second, milliseconds);
  return date.getTime() - offsetMinutes * 60_000;
}

/** RFC 3339 in UTC: whole seconds without a fraction, else milliseconds. */
export function formatRfc3339(atMs: EpochMs): string {
  const text = new Date(atMs).toISOString();
  return text.endsWith('.000Z') ? `${text.slice(0, -5)}Z` : text;
}

function daysInMonth(year: number, month: number): number {
  return new Date(Date.UTC(year, month, 0)).getUTCDate() || 31;
}

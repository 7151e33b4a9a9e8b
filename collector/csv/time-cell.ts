/*
 * What a cell says about time by its form alone. Which day 04/05/2026 is, or which instant 01:30 at a site, is not
 * decided here: that takes the whole file, the options and the zone.
 */

/** A wall clock's reading, written as the epoch milliseconds that UTC would have at that reading. */
export type WallMs = number;

export type TimeCell =
  /** With an offset, or Unix time: an instant whatever the file. */
  | { readonly kind: 'instant'; readonly atMs: number }
  /** Date with the year first, no offset. */
  | { readonly kind: 'wall'; readonly wallMs: WallMs }
  /** Date of three numbers whose order isn't certain. */
  | {
      readonly kind: 'parts';
      readonly parts: DateParts;
      readonly msOfDay: number;
      readonly offsetMs: number | undefined;
    }
  /** HH:MM:SS, with or without a fraction. */
  | { readonly kind: 'clock'; readonly msOfDay: number }
  /** Two numbers with a colon: 14:11 or 14:11.6. */
  | { readonly kind: 'pair'; readonly first: number; readonly secondMs: number; readonly fraction: boolean };

export interface DateParts {
  readonly first: number;
  readonly second: number;
  readonly third: number;
  /** The third number has four digits: it is the year. */
  readonly fullYear: boolean;
}

const TIME = String.raw`(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,12}))?)?(?:\s*([AaPp])\.?[Mm]\.?)?`;
const OFFSET = String.raw`(?:\s*(?:([Zz]|UTC|GMT)|([+-])(\d{2})(?::?(\d{2}))?))?`;
const GAP = String.raw`(?:[Tt]|,?\s+)`;
const YEAR_FIRST = new RegExp(String.raw`^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})${GAP}${TIME}${OFFSET}$`);
const PARTS = new RegExp(String.raw`^(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})${GAP}${TIME}${OFFSET}$`);
const DAY_MONTH_NAME = new RegExp(String.raw`^(\d{1,2})[-\s]([A-Za-z]{3,9})\.?[-,\s]\s*(\d{4})${GAP}${TIME}${OFFSET}$`);
const MONTH_NAME_DAY = new RegExp(String.raw`^([A-Za-z]{3,9})\.?\s+(\d{1,2}),?\s+(\d{4})${GAP}${TIME}${OFFSET}$`);
const BASIC = /^(\d{4})(\d{2})(\d{2})[Tt ](\d{2})(\d{2})(\d{2})?(?:[.,](\d{1,12}))?([Zz])?$/;
const CLOCK = new RegExp(`^${TIME}$`);
const PAIR = /^(\d{1,2}):(\d{2})(?:[.,](\d{1,9}))?$/;
const UNIX = /^\d{9,16}(?:[.,]\d{1,9})?$/;
const DATE_ONLY =
  /^(?:\d{4}([-/.])\d{1,2}\1\d{1,2}|\d{1,2}([-/.])\d{1,2}\2(?:\d{4}|\d{2})|\d{1,2}[-\s][A-Za-z]{3,9}[-\s]\d{4})$/;
const MONTHS = ['jan', 'feb', 'mar', 'apr', 'may', 'jun', 'jul', 'aug', 'sep', 'oct', 'nov', 'dec'];

/** Numbers below this are Unix seconds, from it on milliseconds (10¹¹ s is the year 5138). */
const UNIX_MS_FROM = 1e11;

/** The form of a trimmed cell, or undefined where it is no time. Days that don't exist (30 February) are none. */
export function parseTimeCell(cell: string): TimeCell | undefined {
  const yearFirst = YEAR_FIRST.exec(cell);
  if (yearFirst) {
    const day = dayMs(Number(yearFirst[1]), Number(yearFirst[3]), Number(yearFirst[4]));
    return placed(day, yearFirst, 5);
  }
  if (UNIX.test(cell)) {
    const value = Number(cell.replace(',', '.'));
    return { kind: 'instant', atMs: Math.round(value < UNIX_MS_FROM ? value * 1000 : value) };
  }
  const pair = PAIR.exec(cell);
  if (pair) {
    if (Number(pair[1]) > 59 || Number(pair[2]) > 59) return undefined;
    const secondMs = Number(pair[2]) * 1000 + fractionMs(pair[3]);
    return { kind: 'pair', first: Number(pair[1]), secondMs, fraction: pair[3] !== undefined };
  }
  const parts = PARTS.exec(cell);
  if (parts) {
    const time = timeOfDayMs(parts, 5);
    const offsetMs = offsetOf(parts, 10);
    if (time === undefined || Number.isNaN(offsetMs)) return undefined;
    const [first, second, third] = [Number(parts[1]), Number(parts[3]), Number(parts[4])];
    return {
      kind: 'parts',
      parts: { first, second, third, fullYear: parts[4]!.length === 4 },
      msOfDay: time,
      offsetMs,
    };
  }
  const clock = CLOCK.exec(cell);
  if (clock) {
    const msOfDay = timeOfDayMs(clock, 1);
    return msOfDay === undefined ? undefined : { kind: 'clock', msOfDay };
  }
  const basic = BASIC.exec(cell);
  if (basic) {
    const day = dayMs(Number(basic[1]), Number(basic[2]), Number(basic[3]));
    const time = clockMs(Number(basic[4]), Number(basic[5]), Number(basic[6] ?? 0), basic[7]);
    if (day === undefined || time === undefined) return undefined;
    return basic[8] ? { kind: 'instant', atMs: day + time } : { kind: 'wall', wallMs: day + time };
  }
  const dayName = DAY_MONTH_NAME.exec(cell);
  if (dayName) return placed(namedDay(dayName[3]!, dayName[2]!, dayName[1]!), dayName, 4);
  const nameDay = MONTH_NAME_DAY.exec(cell);
  if (nameDay) return placed(namedDay(nameDay[3]!, nameDay[1]!, nameDay[2]!), nameDay, 4);
  return undefined;
}

/** True for a date alone, as files with date and time of day in two columns have it. */
export function isDateOnly(cell: string): boolean {
  return DATE_ONLY.test(cell);
}

/** Start of a day as UTC, or undefined where there is no such day. */
export function dayMs(year: number, month: number, day: number): number | undefined {
  const at = Date.UTC(year, month - 1, day);
  const date = new Date(at);
  return year >= 100 && date.getUTCMonth() === month - 1 && date.getUTCDate() === day ? at : undefined;
}

function namedDay(year: string, month: string, day: string): number | undefined {
  const index = MONTHS.indexOf(month.slice(0, 3).toLowerCase());
  return index < 0 ? undefined : dayMs(Number(year), index + 1, Number(day));
}

/** `at`: index of the hour's group in the match; the offset's groups follow the five of the time. */
function placed(day: number | undefined, match: RegExpExecArray, at: number): TimeCell | undefined {
  const time = timeOfDayMs(match, at);
  const offsetMs = offsetOf(match, at + 5);
  if (day === undefined || time === undefined || Number.isNaN(offsetMs)) return undefined;
  if (offsetMs === undefined) return { kind: 'wall', wallMs: day + time };
  return { kind: 'instant', atMs: day + time - offsetMs };
}

function timeOfDayMs(match: RegExpExecArray, at: number): number | undefined {
  let hour = Number(match[at]);
  const half = match[at + 4];
  if (half !== undefined) {
    if (hour < 1 || hour > 12) return undefined;
    hour = (hour % 12) + (half === 'p' || half === 'P' ? 12 : 0);
  }
  return clockMs(hour, Number(match[at + 1]), Number(match[at + 2] ?? 0), match[at + 3]);
}

/** A leap second (RFC 3339 section 5.6 allows :60) reads as the second before it. */
function clockMs(hour: number, minute: number, second: number, fraction: string | undefined): number | undefined {
  if (hour > 23 || minute > 59 || second > 60) return undefined;
  return (hour * 3600 + minute * 60 + Math.min(second, 59)) * 1000 + fractionMs(fraction);
}

function fractionMs(digits: string | undefined): number {
  return digits === undefined ? 0 : Number(`${digits}00`.slice(0, 3));
}

/** East of UTC in ms, undefined without an offset, NaN where it is none that exists. */
function offsetOf(match: RegExpExecArray, at: number): number | undefined {
  if (match[at] !== undefined) return 0;
  if (match[at + 1] === undefined) return undefined;
  const [hours, minutes] = [Number(match[at + 2]), Number(match[at + 3] ?? 0)];
  if (hours > 23 || minutes > 59) return Number.NaN;
  return (match[at + 1] === '-' ? -1 : 1) * (hours * 60 + minutes) * 60_000;
}

import { startWallMs } from './csv-options.ts';
import { excerpt } from './excerpt.ts';
import { isAbsent } from './number-cell.ts';
import { dayOf, type ReadingRules } from './survey.ts';
import { isDateOnly, parseTimeCell } from './time-cell.ts';

/** A row's time as far as the rules fix it: an instant, a wall clock's reading, or why neither. */
export type RowTime =
  | { readonly kind: 'instant'; readonly atMs: number }
  | { readonly kind: 'wall'; readonly wallMs: number }
  | { readonly kind: 'refused'; readonly reason: string };

/** A time of day that steps back by less than this is a late row; by more, midnight has passed. */
const LATE_CLOCK_ROW_MS = 3_600_000;
/** The same for minutes and seconds, where the hour rolls over. */
const LATE_MINUTE_ROW_MS = 300_000;
const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;

/** Reads the time texts of a file's rows, in their order: times of day roll over from the start date on. */
export function createTimeReader(rules: ReadingRules): (text: string) => RowTime {
  const startMs = rules.date === undefined ? undefined : startWallMs(rules.date);
  const days = createRollover(DAY_MS, LATE_CLOCK_ROW_MS);
  const hours = createRollover(HOUR_MS, LATE_MINUTE_ROW_MS);
  const midnight = startMs === undefined ? 0 : Math.floor(startMs / DAY_MS) * DAY_MS;

  return (text) => {
    const time = parseTimeCell(text);
    if (time === undefined) return refuse(notATime(text));
    switch (time.kind) {
      case 'instant':
      case 'wall':
        return time;
      case 'parts': {
        const day = dayOf(time.parts, rules.dateOrder);
        if (day === undefined) return refuse(`the time ${excerpt(text)} isn't ${rules.dateOrder} as the file is read`);
        const wallMs = day + time.msOfDay;
        return time.offsetMs === undefined
          ? { kind: 'wall', wallMs }
          : { kind: 'instant', atMs: wallMs - time.offsetMs };
      }
      case 'clock':
        if (startMs === undefined) return refuse(`the time ${excerpt(text)} has no date`);
        return { kind: 'wall', wallMs: midnight + days(time.msOfDay) };
      case 'pair': {
        if (startMs === undefined) return refuse(`the time ${excerpt(text)} has no date`);
        if (rules.clockForm === 'mm:ss')
          return { kind: 'wall', wallMs: startMs + hours(time.first * 60_000 + time.secondMs) };
        if (time.first > 23 || time.fraction) return refuse(`the time ${excerpt(text)} isn't hours and minutes`);
        return { kind: 'wall', wallMs: midnight + days(time.first * HOUR_MS + (time.secondMs / 1000) * 60_000) };
      }
      default:
        return time satisfies never;
    }
  };
}

/** Turns a reading that starts anew every `periodMs` into one that goes on, in the order of the rows. */
function createRollover(periodMs: number, lateMs: number): (ofPeriodMs: number) => number {
  let previous: number | undefined;
  let periods = 0;
  return (ofPeriodMs) => {
    if (previous !== undefined) {
      const back = previous - ofPeriodMs;
      if (back > lateMs) periods += periodMs;
      else if (-back > periodMs - lateMs && periods > 0) return periods - periodMs + ofPeriodMs;
    }
    if (previous === undefined || previous - ofPeriodMs <= 0 || previous - ofPeriodMs > lateMs) previous = ofPeriodMs;
    return periods + ofPeriodMs;
  };
}

function notATime(text: string): string {
  if (isAbsent(text)) return 'the row has no time';
  if (isDateOnly(text)) return `the time ${excerpt(text)} is a date without a time of day`;
  return `the time ${excerpt(text)} can't be read`;
}

function refuse(reason: string): RowTime {
  return { kind: 'refused', reason };
}

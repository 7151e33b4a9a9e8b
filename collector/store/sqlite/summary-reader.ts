import { setImmediate as nextTurn } from 'node:timers/promises';
import type { SentRun } from '../../model/series.ts';
import { DAY_MS, dayOfHour, HOUR_MS, type HourNumber, hourOf } from '../hours.ts';
import { coarsen, filterMinutes, joinMinutes, MINUTE_MS, type Minutes, minutesOf } from '../minute-summary.ts';
import type { SummaryLevel } from '../port.ts';
import type { ErasedSpans } from './erased-spans.ts';
import { createHourEdges } from './hour-edges.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { DaySummaries } from './summaries.ts';
import type { ChannelKey } from './tail.ts';

/** Days fetched by one statement: a day of minutes takes some 0.3 ms to unpack, one of hours next to nothing. */
const DAYS_OF_MINUTES_A_FETCH = 14;
const DAYS_OF_HOURS_A_FETCH = 366;
const MINUTES_PER_HOUR = HOUR_MS / MINUTE_MS;
const HOURS_A_DAY = DAY_MS / HOUR_MS;
/** A long reading lets others have their turn after this many milliseconds. */
const LONGEST_STRETCH_MS = 10;

/** Summaries as they stand: of sealed hours from what is kept, of hours in the tail from their samples. */
export interface SummaryReader {
  /** All minutes (or hours, as groups of sixty) of the UTC days that [fromMs, toMs) touches, one entry a unit. */
  read(key: ChannelKey, fromMs: number, toMs: number, level: SummaryLevel): Promise<Minutes[]>;
}

export function createSummaryReader(
  database: SqliteDatabase,
  parts: {
    summaries: DaySummaries;
    erased: ErasedSpans;
    samplesOf: (key: ChannelKey, hour: HourNumber) => readonly SentRun[];
    /** The first hour from `from` on that has samples. */
    nextHour: (key: ChannelKey, from: HourNumber) => HourNumber | null;
    /** Runs an action on the file; its faults become Problems. */
    read: <Result>(action: () => Result) => Result;
  },
): SummaryReader {
  const { summaries, erased, samplesOf, nextHour, read } = parts;
  const hourEdges = createHourEdges(database);
  const selectTailHours = database
    .prepare('select distinct hour from tail_piece where logger = ? and channel = ? and hour between ? and ?')
    .pluck();
  const selectNextDay = database
    .prepare('select min(day) from day_summary where logger = ? and channel = ? and day >= ?')
    .pluck();

  /** Minutes of whole days; hours with samples in the tail are worked out from their samples. One view of the file. */
  const readMinutes = database.transaction((key: ChannelKey, firstDay: number, lastDay: number): Minutes[] => {
    const inTail = hoursInTail(key, firstDay * HOURS_A_DAY, lastDay * HOURS_A_DAY + 23);
    const open = new Set(inTail);
    const openDays = new Set(inTail.map(dayOfHour));
    const sealed = summaries
      .read(key, firstDay, lastDay)
      .map((minutes) =>
        openDays.has(Math.floor((minutes.minute[0]! * MINUTE_MS) / DAY_MS))
          ? filterMinutes(minutes, (minute) => !open.has(hourOf(minute * MINUTE_MS)))
          : minutes,
      );
    return [...sealed, ...inTail.flatMap((hour) => minutesInTail(key, hour))];
  });

  /**
   * The same by the hour: from what stands beside each block, without unpacking any. Hours of several units, and those
   * whose samples were erased, are put together from their minutes.
   */
  const readHours = database.transaction((key: ChannelKey, firstDay: number, lastDay: number): Minutes[] => {
    const [first, last] = [firstDay * HOURS_A_DAY, lastDay * HOURS_A_DAY + 23];
    const inTail = hoursInTail(key, first, last);
    const open = new Set(inTail);
    const { edges, mixed } = hourEdges.read(key, first, last);
    const fromMinutes = new Set(mixed);
    for (const { from_hour, to_hour } of erased.touching(key, first, last))
      for (let hour = Math.max(from_hour, first); hour <= Math.min(to_hour, last); hour++) fromMinutes.add(hour);
    const ofDays = [...new Set([...fromMinutes].map(dayOfHour))].flatMap((day) => summaries.read(key, day, day));
    const asked = (minute: number) => {
      const hour = hourOf(minute * MINUTE_MS);
      return fromMinutes.has(hour) && !open.has(hour);
    };
    return [
      ...(open.size === 0
        ? edges
        : edges.map((part) => filterMinutes(part, (minute) => !open.has(minute / MINUTES_PER_HOUR)))),
      ...ofDays.map((minutes) => coarsen(filterMinutes(minutes, asked), MINUTES_PER_HOUR)),
      ...inTail.flatMap((hour) => minutesInTail(key, hour).map((minutes) => coarsen(minutes, MINUTES_PER_HOUR))),
    ];
  });

  function hoursInTail(key: ChannelKey, first: HourNumber, last: HourNumber): HourNumber[] {
    return selectTailHours.all(key.logger, key.channel, first, last) as HourNumber[];
  }

  function minutesInTail(key: ChannelKey, hour: HourNumber): Minutes[] {
    return minutesOf(samplesOf(key, hour));
  }

  /** All summaries of the days that the span touches, some days at a time with turns for others in between. */
  async function readAll(key: ChannelKey, fromMs: number, toMs: number, level: SummaryLevel): Promise<Minutes[]> {
    const lastDay = Math.floor((toMs - 1) / DAY_MS);
    const byMinutes = level === 'minute' || read(() => hourEdges.scattered(key, hourOf(fromMs), hourOf(toMs - 1)));
    const daysAFetch = byMinutes ? DAYS_OF_MINUTES_A_FETCH : DAYS_OF_HOURS_A_FETCH;
    const readPart = byMinutes ? readMinutes : readHours;
    const grouped = (minutes: Minutes) =>
      byMinutes && level === 'hour' ? coarsen(minutes, MINUTES_PER_HOUR) : minutes;
    const parts: Minutes[] = [];
    let day: number | undefined = Math.floor(fromMs / DAY_MS);
    let turnMs = performance.now();
    while (day !== undefined && day <= lastDay) {
      const first: number = day;
      const last = Math.min(first + daysAFetch - 1, lastDay);
      parts.push(...read(() => readPart.deferred(key, first, last)).map(grouped));
      day = last < lastDay ? read(() => nextDay(key, last + 1)) : undefined;
      if (day === undefined || performance.now() - turnMs <= LONGEST_STRETCH_MS) continue;
      await nextTurn();
      turnMs = performance.now();
    }
    return joinMinutes(parts);
  }

  /** The next day that has anything, so that a century without samples costs no more than its borders. */
  function nextDay(key: ChannelKey, from: number): number | undefined {
    const hour = nextHour(key, from * HOURS_A_DAY);
    const day = selectNextDay.get(key.logger, key.channel, from) as number | null;
    const found = [hour === null ? undefined : dayOfHour(hour), day ?? undefined].filter((one) => one !== undefined);
    return found.length > 0 ? Math.min(...found) : undefined;
  }

  return { read: readAll };
}

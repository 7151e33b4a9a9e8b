import type { SentRun } from '../../model/series.ts';
import { HOUR_MS, type HourNumber } from '../hours.ts';
import {
  decodeDay,
  encodeDay,
  filterMinutes,
  joinMinutes,
  MINUTE_MS,
  type Minutes,
  minutesOf,
} from '../minute-summary.ts';
import { DAY_ROW_BYTES } from './migrations.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { ChannelKey } from './tail.ts';
import type { Weights } from './weights.ts';

interface DayRow {
  readonly version: number;
  readonly payload: Uint8Array;
}

const MINUTES_PER_HOUR = HOUR_MS / MINUTE_MS;

/** Minutes of sealed hours, a UTC day to a row. */
export interface DaySummaries {
  /** Puts the minutes of these hours (all of one day) in place of what the day had for them. */
  replaceHours(key: ChannelKey, day: number, hours: ReadonlyMap<HourNumber, readonly SentRun[]>): void;
  /** Leaves only the minutes (counted from 1970) that `keep` lets through. */
  cut(key: ChannelKey, day: number, keep: (minute: number) => boolean): void;
  read(key: ChannelKey, fromDay: number, toDay: number): Minutes[];
}

export function createDaySummaries(database: SqliteDatabase, weights: Weights): DaySummaries {
  const select = database.prepare(
    'select version, payload from day_summary where logger = ? and channel = ? and day = ?',
  );
  const selectSpan = database.prepare(
    'select day, payload from day_summary where logger = ? and channel = ? and day between ? and ? order by day',
  );
  const remove = database.prepare('delete from day_summary where logger = ? and channel = ? and day = ?');
  const upsert = database.prepare(
    `insert into day_summary (logger, channel, day, version, payload) values (?,?,?,?,?)
     on conflict (logger, channel, day) do update set version = excluded.version, payload = excluded.payload
     where day_summary.version = excluded.version - 1`,
  );

  function writeDay({ logger, channel }: ChannelKey, day: number, row: DayRow | undefined, units: Minutes[]): void {
    const before = row ? DAY_ROW_BYTES + row.payload.length : 0;
    if (units.length === 0) {
      remove.run(logger, channel, day);
      if (before > 0) weights.add(logger, day, -before);
      return;
    }
    const payload = encodeDay(day, units);
    upsert.run(logger, channel, day, (row?.version ?? 0) + 1, payload);
    weights.add(logger, day, DAY_ROW_BYTES + payload.length - before);
  }

  return {
    replaceHours({ logger, channel }, day, hours) {
      const row = select.get(logger, channel, day) as DayRow | undefined;
      const parts = (row ? decodeDay(day, row.payload) : []).map((minutes) =>
        filterMinutes(minutes, (minute) => !hours.has(Math.floor(minute / MINUTES_PER_HOUR))),
      );
      for (const runs of hours.values()) parts.push(...minutesOf(runs));
      const units = joinMinutes(parts.filter((part) => part.minute.length > 0));
      writeDay({ logger, channel }, day, row, units);
    },
    cut({ logger, channel }, day, keep) {
      const row = select.get(logger, channel, day) as DayRow | undefined;
      if (!row) return;
      const units = decodeDay(day, row.payload).map((minutes) => filterMinutes(minutes, keep));
      writeDay(
        { logger, channel },
        day,
        row,
        units.filter((minutes) => minutes.minute.length > 0),
      );
    },
    read({ logger, channel }, fromDay, toDay) {
      const rows = selectSpan.all(logger, channel, fromDay, toDay) as { day: number; payload: Uint8Array }[];
      return rows.flatMap((row) => decodeDay(row.day, row.payload));
    },
  };
}

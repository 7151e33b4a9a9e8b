import type { HourNumber } from '../hours.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { ChannelKey } from './tail.ts';

/** Hours in a row whose samples were erased by age, and what was known of them. Both ends are included. */
export interface RawErasedRow {
  readonly from_hour: HourNumber;
  readonly to_hour: HourNumber;
  readonly first_ms: number;
  readonly last_ms: number;
  readonly sample_count: number;
  readonly last_value: number;
  readonly unit: string;
}

/** Which hours have lost their samples to their age while their minutes were kept. */
export interface RawErased {
  covers(key: ChannelKey, hour: HourNumber): boolean;
  /** Ascending. */
  between(key: ChannelKey, from: HourNumber, to: HourNumber): RawErasedRow[];
  /** Within the caller's transaction; hours must come ascending to grow one row. */
  add(key: ChannelKey, hour: HourNumber, what: Omit<RawErasedRow, 'from_hour' | 'to_hour'>): void;
  /** Forgets that hours were erased: they were erased altogether. */
  remove(key: ChannelKey, from: HourNumber, to: HourNumber): void;
}

export function createRawErased(database: SqliteDatabase): RawErased {
  const covering = database
    .prepare(
      `select count(*) from (select to_hour from raw_erased where logger = ? and channel = ? and from_hour <= ?
       order by from_hour desc limit 1) where to_hour >= ?`,
    )
    .pluck();
  const select = database.prepare(
    `select from_hour, to_hour, first_ms, last_ms, sample_count, last_value, unit from raw_erased
     where logger = ? and channel = ? and from_hour <= ? and to_hour >= ? order by from_hour`,
  );
  const put = database.prepare(
    `insert or replace into raw_erased
       (logger, channel, from_hour, to_hour, first_ms, last_ms, sample_count, last_value, unit)
     values (@logger, @channel, @from_hour, @to_hour, @first_ms, @last_ms, @sample_count, @last_value, @unit)`,
  );
  const remove = database.prepare(
    'delete from raw_erased where logger = ? and channel = ? and from_hour between ? and ?',
  );

  const between = ({ logger, channel }: ChannelKey, from: HourNumber, to: HourNumber) =>
    select.all(logger, channel, to, from) as RawErasedRow[];
  return {
    covers: ({ logger, channel }, hour) => covering.get(logger, channel, hour, hour) === 1,
    between,
    add({ logger, channel }, hour, what) {
      const [row] = between({ logger, channel }, hour - 1, hour).slice(-1);
      const grown = row && {
        from_hour: row.from_hour,
        to_hour: Math.max(row.to_hour, hour),
        first_ms: Math.min(row.first_ms, what.first_ms),
        last_ms: Math.max(row.last_ms, what.last_ms),
        sample_count: row.sample_count + what.sample_count,
        last_value: row.last_ms > what.last_ms ? row.last_value : what.last_value,
        unit: row.last_ms > what.last_ms ? row.unit : what.unit,
      };
      put.run({ logger, channel, ...(grown ?? { from_hour: hour, to_hour: hour, ...what }) });
    },
    remove: ({ logger, channel }, from, to) => void remove.run(logger, channel, from, to),
  };
}

import type { HourNumber } from '../hours.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { ChannelKey } from './tail.ts';

/** Hours from `from_hour` to `to_hour` (both included) whose samples were erased by age, each of which had some. */
export interface ErasedRow {
  readonly from_hour: HourNumber;
  readonly to_hour: HourNumber;
  readonly first_ms: number;
  readonly last_ms: number;
  readonly sample_count: number;
  readonly last_value: number;
  readonly last_unit: string;
  readonly erased_at_ms: number;
}

/** What is remembered of samples that were erased by age. All within the caller's transaction. */
export interface ErasedSpans {
  /** Rows that touch hours from `from` to `to` (both included), ascending. */
  touching(key: ChannelKey, from: HourNumber, to: HourNumber): ErasedRow[];
  has(key: ChannelKey, hour: HourNumber): boolean;
  /** Adds a row of hours that have none yet; joined with a row that ends just before or begins just after. */
  add(key: ChannelKey, row: ErasedRow): void;
  remove(key: ChannelKey, row: ErasedRow): void;
}

export function createErasedSpans(database: SqliteDatabase): ErasedSpans {
  const touching = database.prepare(
    `select * from erased_span where logger = ? and channel = ? and from_hour <= ? and to_hour >= ? order by from_hour`,
  );
  const remove = database.prepare('delete from erased_span where logger = ? and channel = ? and from_hour = ?');
  const insert = database.prepare(
    `insert into erased_span (logger, channel, from_hour, to_hour, first_ms, last_ms, sample_count, last_value,
       last_unit, erased_at_ms)
     values (@logger, @channel, @from_hour, @to_hour, @first_ms, @last_ms, @sample_count, @last_value, @last_unit,
       @erased_at_ms)`,
  );
  const read = ({ logger, channel }: ChannelKey, from: HourNumber, to: HourNumber) =>
    touching.all(logger, channel, to, from) as ErasedRow[];

  return {
    touching: read,
    has: (key, hour) => read(key, hour, hour).length > 0,
    add(key, row) {
      const neighbours = read(key, row.from_hour - 1, row.to_hour + 1);
      for (const neighbour of neighbours) remove.run(key.logger, key.channel, neighbour.from_hour);
      const all = [row, ...neighbours].sort((a, b) => a.from_hour - b.from_hour);
      const last = all.at(-1)!;
      insert.run({
        logger: key.logger,
        channel: key.channel,
        from_hour: all[0]!.from_hour,
        to_hour: last.to_hour,
        first_ms: all[0]!.first_ms,
        last_ms: last.last_ms,
        sample_count: all.reduce((sum, one) => sum + one.sample_count, 0),
        last_value: last.last_value,
        last_unit: last.last_unit,
        erased_at_ms: row.erased_at_ms,
      });
    },
    remove: ({ logger, channel }, row) => void remove.run(logger, channel, row.from_hour),
  };
}

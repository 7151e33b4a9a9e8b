import type { HourNumber } from '../hours.ts';
import { joinMinutes, type Minutes } from '../minute-summary.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { ChannelKey } from './tail.ts';

const MINUTES_PER_HOUR = 60;

/** Sealed hours as they are described beside their payload: a year of them is read without unpacking anything. */
export interface HourEdges {
  /**
   * Hours from `from` to `to` (both included) as groups of sixty minutes, one entry a unit; `mixed`: hours of several
   * units, which have no extremes of their own.
   */
  read(key: ChannelKey, from: HourNumber, to: HourNumber): { edges: Minutes[]; mixed: HourNumber[] };
  /**
   * Whether the rows of these hours lie far apart, because many channels were sealed by turns: each is then a page of
   * its own to be fetched, and the days' minutes, twenty-four hours to a row, are quicker.
   */
  scattered(key: ChannelKey, from: HourNumber, to: HourNumber): boolean;
}

/** Rows lie near each other where others take up to this many places for each of them. */
const PLACES_A_ROW = 8;

type EdgeRow = readonly [HourNumber, string | null, number, number, number, number];

export function createHourEdges(database: SqliteDatabase): HourEdges {
  const select = database
    .prepare(
      `select hour, unit, min_value, max_value, sum_value, sample_count from block
         where logger = ? and channel = ? and hour between ? and ? order by hour`,
    )
    .raw();
  // Answered from the index alone.
  const places = database
    .prepare(
      `select count(*), max(id) - min(id) + 1 from block
         where logger = ? and channel = ? and hour between ? and ?`,
    )
    .raw();
  return {
    scattered({ logger, channel }, from, to) {
      const [count, span] = places.get(logger, channel, from, to) as [number, number | null];
      return (span ?? 0) > count * PLACES_A_ROW;
    },
    read({ logger, channel }, from, to) {
      const rows = select.all(logger, channel, from, to) as EdgeRow[];
      const mixed = rows.flatMap(([hour, unit]) => (unit === null ? [hour] : []));
      const units = [...new Set(rows.map(([, unit]) => unit))].filter((unit) => unit !== null);
      const edges = units.map((unit): Minutes => {
        const ofUnit = units.length === 1 && mixed.length === 0 ? rows : rows.filter((row) => row[1] === unit);
        const column = (place: 2 | 3 | 4 | 5) => Float64Array.from(ofUnit, (row) => row[place]);
        return {
          unit,
          minute: Float64Array.from(ofUnit, ([hour]) => hour * MINUTES_PER_HOUR),
          min: column(2),
          max: column(3),
          sum: column(4),
          count: column(5),
        };
      });
      return { edges: joinMinutes(edges), mixed };
    },
  };
}

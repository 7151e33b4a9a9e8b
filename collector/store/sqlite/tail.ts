import type { SentRun } from '../../model/series.ts';
import { decodeRuns, encodeRuns } from '../block-codec.ts';
import { type HourNumber, startOfHourMs } from '../hours.ts';
import { countSamples } from '../merge-runs.ts';
import { addFingerprints, fingerprintOf } from '../sample-digest.ts';
import type { SqliteDatabase } from './open-database.ts';

/** What rows are keyed by before the hour: logger and channel as numbers. */
export interface ChannelKey {
  readonly logger: number;
  readonly channel: number;
}

/** Delay between a message's newest sample and its arrival, in whole seconds: of the first and last message, and the largest. */
export interface ArrivalLag {
  readonly firstS: number;
  readonly lastS: number;
  readonly largestS: number;
}

export interface TailRow {
  readonly hour: HourNumber;
  readonly first_ms: number;
  readonly last_ms: number;
  readonly sample_count: number;
  readonly fingerprint: number;
  readonly lag_first_s: number;
  readonly lag_last_s: number;
  readonly lag_largest_s: number;
  readonly samples: Uint8Array;
}

/**
 * The tail: samples as they came, a row a piece, until their hour is sealed. Samples of a channel are unique over tail
 * and blocks, so the time of a piece's first sample names it.
 */
export interface Tail {
  insert(key: ChannelKey, hour: HourNumber, runs: readonly SentRun[], lag: ArrivalLag): void;
  /** Pieces of an hour that may hold times from `fromMs` to `toMs` (both included). */
  overlapping(key: ChannelKey, hour: HourNumber, fromMs: number, toMs: number): TailRow[];
  /** Takes an hour's pieces out, ascending by their first sample. */
  takeHour(key: ChannelKey, hour: HourNumber): TailRow[];
  deletePiece(key: ChannelKey, row: TailRow): void;
  /** Every channel and hour that has pieces; walks the index, never the pieces. */
  waitingHours(): (ChannelKey & { hour: HourNumber })[];
}

export function runsOfRow(row: { hour: HourNumber; samples: Uint8Array }): SentRun[] {
  return decodeRuns(startOfHourMs(row.hour), row.samples);
}

/**
 * The same, compared with the fingerprint kept beside them: bytes that were changed on the disk often unpack to other
 * values without a complaint. Throws a RangeError where they differ.
 */
export function trueRunsOfRow(row: { hour: HourNumber; samples: Uint8Array | null; fingerprint: number }): SentRun[] {
  const runs = runsOfRow({ hour: row.hour, samples: row.samples ?? new Uint8Array() });
  if (runs.reduce((sum, run) => addFingerprints(sum, fingerprintOf(run)), 0) !== row.fingerprint)
    throw new RangeError("its samples aren't those that were stored");
  return runs;
}

export function createTail(database: SqliteDatabase): Tail {
  const insert = database.prepare(
    `insert into tail_piece (logger, channel, hour, first_ms, last_ms, sample_count, fingerprint,
       lag_first_s, lag_last_s, lag_largest_s, samples) values (?,?,?,?,?,?,?,?,?,?,?)`,
  );
  const overlapping = database.prepare(
    `select * from tail_piece where logger = ? and channel = ? and hour = ? and first_ms <= ? and last_ms >= ?
     order by first_ms`,
  );
  const take = database.prepare('delete from tail_piece where logger = ? and channel = ? and hour = ? returning *');
  const remove = database.prepare(
    'delete from tail_piece where logger = ? and channel = ? and hour = ? and first_ms = ?',
  );
  const next = database.prepare(
    `select logger, channel, hour from tail_piece where (logger, channel, hour) > (?, ?, ?)
     order by logger, channel, hour limit 1`,
  );

  return {
    insert({ logger, channel }, hour, runs, lag) {
      const fingerprint = runs.reduce((sum, run) => addFingerprints(sum, fingerprintOf(run)), 0);
      insert.run(
        logger,
        channel,
        hour,
        runs[0]!.timeMs[0],
        runs.at(-1)!.timeMs.at(-1),
        countSamples(runs),
        fingerprint,
        lag.firstS,
        lag.lastS,
        lag.largestS,
        encodeRuns(startOfHourMs(hour), runs, 'plain'),
      );
    },
    overlapping: ({ logger, channel }, hour, fromMs, toMs) =>
      overlapping.all(logger, channel, hour, toMs, fromMs) as TailRow[],
    takeHour({ logger, channel }, hour) {
      // RETURNING promises no order.
      return (take.all(logger, channel, hour) as TailRow[]).sort((a, b) => a.first_ms - b.first_ms);
    },
    deletePiece: ({ logger, channel }, row) => void remove.run(logger, channel, row.hour, row.first_ms),
    waitingHours() {
      const found: (ChannelKey & { hour: HourNumber })[] = [];
      let at = { logger: -1, channel: -1, hour: -1 };
      for (;;) {
        const row = next.get(at.logger, at.channel, at.hour) as typeof at | undefined;
        if (!row) return found;
        found.push(row);
        at = row;
      }
    },
  };
}

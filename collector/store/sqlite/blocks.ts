import type { SentRun } from '../../model/series.ts';
import { encodeRuns } from '../block-codec.ts';
import { type HourNumber, startOfHourMs } from '../hours.ts';
import { countSamples } from '../merge-runs.ts';
import { addFingerprints, fingerprintOf, sealOf } from '../sample-digest.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { ArrivalLag, ChannelKey } from './tail.ts';

export interface BlockRow {
  readonly hour: HourNumber;
  readonly version: number;
  readonly first_ms: number;
  readonly last_ms: number;
  readonly sample_count: number;
  readonly lag_first_s: number;
  readonly lag_last_s: number;
  readonly lag_largest_s: number;
  readonly sha256: Uint8Array;
  readonly payload: Uint8Array;
}

/** Sealed hours: one row a channel and hour. */
export interface Blocks {
  read(key: ChannelKey, hour: HourNumber): BlockRow | undefined;
  /** The block of an hour if it may hold times from `fromMs` to `toMs` (both included). */
  overlapping(key: ChannelKey, hour: HourNumber, fromMs: number, toMs: number): BlockRow | undefined;
  /**
   * Writes the hour's samples as version `readVersion + 1` (0: there was no block). False where another version is there
   * by now: the caller rolls back.
   */
  write(key: ChannelKey, hour: HourNumber, readVersion: number, runs: readonly SentRun[], lag: ArrivalLag): boolean;
  delete(key: ChannelKey, hour: HourNumber): void;
}

export function createBlocks(database: SqliteDatabase): Blocks {
  const columns = `hour, version, first_ms, last_ms, sample_count, lag_first_s, lag_last_s, lag_largest_s, sha256, payload`;
  const read = database.prepare(`select ${columns} from block where logger = ? and channel = ? and hour = ?`);
  const overlapping = database.prepare(
    `select ${columns} from block where logger = ? and channel = ? and hour = ? and first_ms <= ? and last_ms >= ?`,
  );
  const remove = database.prepare('delete from block where logger = ? and channel = ? and hour = ?');
  const write = database.prepare(
    `insert into block (logger, channel, hour, version, first_ms, last_ms, sample_count, unit, first_value, last_value,
       min_value, max_value, sum_value, lag_first_s, lag_last_s, lag_largest_s, fingerprint, sha256, payload)
     values (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)
     on conflict (logger, channel, hour) do update set version = excluded.version, first_ms = excluded.first_ms,
       last_ms = excluded.last_ms, sample_count = excluded.sample_count, unit = excluded.unit,
       first_value = excluded.first_value, last_value = excluded.last_value, min_value = excluded.min_value,
       max_value = excluded.max_value, sum_value = excluded.sum_value, lag_first_s = excluded.lag_first_s,
       lag_last_s = excluded.lag_last_s, lag_largest_s = excluded.lag_largest_s, fingerprint = excluded.fingerprint,
       sha256 = excluded.sha256, payload = excluded.payload
     where block.version = excluded.version - 1`,
  );

  return {
    read: ({ logger, channel }, hour) => read.get(logger, channel, hour) as BlockRow | undefined,
    overlapping: ({ logger, channel }, hour, fromMs, toMs) =>
      overlapping.get(logger, channel, hour, toMs, fromMs) as BlockRow | undefined,
    write({ logger, channel }, hour, readVersion, runs, lag) {
      const first = runs[0]!;
      const last = runs.at(-1)!;
      // Values of different units can't be compared, so a mixed hour has no unit and no extremes of its own.
      const ofOneUnit = runs.length === 1 ? extremes(first.value) : undefined;
      const result = write.run(
        logger,
        channel,
        hour,
        readVersion + 1,
        first.timeMs[0],
        last.timeMs.at(-1),
        countSamples(runs),
        ofOneUnit ? first.unit : null,
        first.value[0],
        last.value.at(-1),
        ofOneUnit?.min ?? null,
        ofOneUnit?.max ?? null,
        ofOneUnit?.sum ?? null,
        lag.firstS,
        lag.lastS,
        lag.largestS,
        runs.reduce((sum, run) => addFingerprints(sum, fingerprintOf(run)), 0),
        sealOf(runs),
        encodeRuns(startOfHourMs(hour), runs, 'deflated'),
      );
      return result.changes === 1;
    },
    delete: ({ logger, channel }, hour) => void remove.run(logger, channel, hour),
  };
}

function extremes(values: Float64Array): { min: number; max: number; sum: number } {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (const value of values) {
    if (value < min) min = value;
    if (value > max) max = value;
    sum += value;
  }
  return { min, max, sum };
}

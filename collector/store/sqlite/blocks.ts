import type { SentRun } from '../../model/series.ts';
import { encodeRuns } from '../block-codec.ts';
import { dayOfHour, type HourNumber, startOfHourMs } from '../hours.ts';
import { countSamples } from '../merge-runs.ts';
import { addFingerprints, fingerprintOf, sealOf } from '../sample-digest.ts';
import { BLOCK_ROW_BYTES } from './migrations.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { ArrivalLag, ChannelKey } from './tail.ts';
import type { Weights } from './weights.ts';

export interface BlockRow {
  readonly id: number;
  readonly hour: HourNumber;
  readonly version: number;
  readonly first_ms: number;
  readonly last_ms: number;
  readonly sample_count: number;
  readonly lag_first_s: number;
  readonly lag_last_s: number;
  readonly lag_largest_s: number;
  readonly fingerprint: number;
  readonly sha256: Uint8Array;
  /** The hour's samples as `encodeRuns` packs them. */
  readonly samples: Uint8Array;
}

/** Sealed hours: one row a channel and hour. */
export interface Blocks {
  read(key: ChannelKey, hour: HourNumber): BlockRow | undefined;
  /** The block of an hour if it may hold times from `fromMs` to `toMs` (both included). */
  overlapping(key: ChannelKey, hour: HourNumber, fromMs: number, toMs: number): BlockRow | undefined;
  /**
   * Writes the hour's samples as a new version of `before` (undefined: there was no block). False where another version
   * is there by now: the caller rolls back.
   */
  write(
    key: ChannelKey,
    hour: HourNumber,
    before: BlockRow | undefined,
    runs: readonly SentRun[],
    lag: ArrivalLag,
  ): boolean;
  delete(key: ChannelKey, block: BlockRow): void;
}

/*
 * A payload is kept in parts: whole ones of some 2 kB leave up to an eighth of each page empty, parts of this size about
 * a fiftieth, key included. Parts are rows of their own, numbered within their block.
 */
const PART_BYTES = 1024;
const PARTS_A_BLOCK = 1024;

/** The joined payload of the `block` row in hand, as an expression. */
export const PAYLOAD_OF_BLOCK = `(select join_parts(part order by block_payload.id) from block_payload
  where block_payload.id between block.id * ${PARTS_A_BLOCK} and block.id * ${PARTS_A_BLOCK} + ${PARTS_A_BLOCK - 1})`;

const COLUMNS = [
  'version',
  'first_ms',
  'last_ms',
  'sample_count',
  'unit',
  'first_value',
  'last_value',
  'min_value',
  'max_value',
  'sum_value',
  'lag_first_s',
  'lag_last_s',
  'lag_largest_s',
  'fingerprint',
  'sha256',
] as const;

export function createBlocks(database: SqliteDatabase, weights: Weights): Blocks {
  const selected = `select id, hour, version, first_ms, last_ms, sample_count, lag_first_s, lag_last_s, lag_largest_s,
      fingerprint, sha256, ${PAYLOAD_OF_BLOCK} as samples from block
    where logger = @logger and channel = @channel and hour = @hour`;
  const read = database.prepare(selected);
  const overlapping = database.prepare(`${selected} and first_ms <= @toMs and last_ms >= @fromMs`);
  const remove = database.prepare('delete from block where id = ?');
  const removeParts = database.prepare('delete from block_payload where id between ? and ?');
  const insert = database.prepare(
    `insert into block (logger, channel, hour, ${COLUMNS.join(', ')})
     values (@logger, @channel, @hour, ${COLUMNS.map((column) => `@${column}`).join(', ')})
     on conflict (logger, channel, hour) do nothing`,
  );
  const insertPart = database.prepare('insert into block_payload (id, part) values (?, ?)');
  const update = database.prepare(
    `update block set ${COLUMNS.map((column) => `${column} = @${column}`).join(', ')}
     where id = @id and version = @version - 1`,
  );

  function writePayload(block: number, payload: Uint8Array): void {
    const count = Math.min(Math.ceil(payload.length / PART_BYTES), PARTS_A_BLOCK);
    const size = Math.ceil(payload.length / count);
    for (let part = 0; part < count; part++) {
      insertPart.run(block * PARTS_A_BLOCK + part, payload.subarray(part * size, (part + 1) * size));
    }
  }

  function removePayload(block: number): void {
    removeParts.run(block * PARTS_A_BLOCK, (block + 1) * PARTS_A_BLOCK - 1);
  }

  return {
    read: ({ logger, channel }, hour) => read.get({ logger, channel, hour }) as BlockRow | undefined,
    overlapping: ({ logger, channel }, hour, fromMs, toMs) =>
      overlapping.get({ logger, channel, hour, fromMs, toMs }) as BlockRow | undefined,
    write({ logger, channel }, hour, before, runs, lag) {
      const columns = { ...describeBlock(runs, lag), version: (before?.version ?? 0) + 1 };
      const payload = encodeRuns(startOfHourMs(hour), runs, 'deflated');
      if (before) {
        if (update.run({ id: before.id, ...columns }).changes === 0) return false;
        removePayload(before.id);
        writePayload(before.id, payload);
        weights.add(logger, dayOfHour(hour), payload.length - (before.samples?.length ?? 0));
        return true;
      }
      const inserted = insert.run({ logger, channel, hour, ...columns });
      if (inserted.changes === 0) return false;
      writePayload(Number(inserted.lastInsertRowid), payload);
      weights.add(logger, dayOfHour(hour), BLOCK_ROW_BYTES + payload.length);
      return true;
    },
    delete({ logger }, { id, hour, samples }) {
      remove.run(id);
      removePayload(id);
      weights.add(logger, dayOfHour(hour), -BLOCK_ROW_BYTES - samples.length);
    },
  };
}

/** What is kept beside the payload. Values of different units can't be compared: a mixed hour has no extremes. */
export function describeBlock(runs: readonly SentRun[], lag: ArrivalLag): Record<string, unknown> {
  const first = runs[0]!;
  const last = runs.at(-1)!;
  const ofOneUnit = runs.every((run) => run.unit === first.unit) ? extremes(runs) : undefined;
  return {
    first_ms: first.timeMs[0],
    last_ms: last.timeMs.at(-1),
    sample_count: countSamples(runs),
    unit: ofOneUnit ? first.unit : null,
    first_value: first.value[0],
    last_value: last.value.at(-1),
    min_value: ofOneUnit?.min ?? null,
    max_value: ofOneUnit?.max ?? null,
    sum_value: ofOneUnit?.sum ?? null,
    lag_first_s: lag.firstS,
    lag_last_s: lag.lastS,
    lag_largest_s: lag.largestS,
    fingerprint: runs.reduce((sum, run) => addFingerprints(sum, fingerprintOf(run)), 0),
    sha256: sealOf(runs),
  };
}

function extremes(runs: readonly SentRun[]): { min: number; max: number; sum: number } {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (const { value } of runs) {
    for (let i = 0; i < value.length; i++) {
      const reading = value[i]!;
      if (reading < min) min = reading;
      if (reading > max) max = reading;
      sum += reading;
    }
  }
  return { min, max, sum };
}

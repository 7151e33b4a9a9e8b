import { Problem } from '../../model/problem.ts';
import type { SqliteDatabase } from './open-database.ts';

/** What a sealed hour costs besides its payload: its row, its place in the index, the keys of its parts. In bytes. */
export const BLOCK_ROW_BYTES = 190;
/** What a day of minutes costs besides its payload, in bytes. */
export const DAY_ROW_BYTES = 40;

/**
 * The schema's steps, in order. A step that was once released is never changed: a new one is added. The file's
 * `user_version` is the number of steps it has seen.
 *
 * Keys are logger first, so that everything of a logger lies together and could be distributed by it. Hours and days
 * count from 1970 in UTC. Blocks keep rowids: rows then append in order of sealing and fill their pages, whatever the
 * number of loggers; payloads lie apart from what is known about them, in parts that fill pages, and extents and
 * digests are read without touching them. Each table costs a page of 16 KiB even when it is
 * empty, so settings share one.
 */
export const MIGRATIONS: readonly string[] = [
  `
  create table logger_number (number integer primary key, id text not null unique);

  create table tail_piece (
    logger integer not null, channel integer not null, hour integer not null, first_ms integer not null,
    last_ms integer not null, sample_count integer not null, fingerprint integer not null,
    lag_first_s integer not null, lag_last_s integer not null, lag_largest_s integer not null, samples blob not null,
    primary key (logger, channel, hour, first_ms)) without rowid;

  create table block (
    id integer primary key, logger integer not null, channel integer not null, hour integer not null,
    version integer not null, first_ms integer not null, last_ms integer not null, sample_count integer not null,
    unit text, first_value real, last_value real, min_value real, max_value real, sum_value real,
    lag_first_s integer not null, lag_last_s integer not null, lag_largest_s integer not null,
    fingerprint integer not null, sha256 blob not null);
  create unique index block_by_key on block (logger, channel, hour);
  create table block_payload (id integer primary key, part blob not null);

  create table day_summary (
    logger integer not null, channel integer not null, day integer not null, version integer not null,
    payload blob not null);
  create unique index day_summary_by_key on day_summary (logger, channel, day);

  create table latest (
    logger integer not null, channel integer not null, first_ms integer not null, at_ms integer not null,
    value real not null, unit text not null, arrived_ms integer not null, sample_count integer not null,
    primary key (logger, channel)) without rowid;

  create table reseal (
    logger integer not null, channel integer not null, hour integer not null, reason text not null,
    first_at_ms integer not null, last_at_ms integer not null, times integer not null, samples_added integer not null,
    primary key (logger, channel, hour, reason)) without rowid;

  create table refusal (
    logger_id text not null, number integer not null, topic text not null, at_ms integer not null,
    reason text not null, excerpt text not null, primary key (logger_id, number)) without rowid;

  create table setting (
    kind text not null, id text not null, channel text not null, from_ms integer not null, document text not null,
    primary key (kind, id, channel, from_ms)) without rowid;
  `,
  // What was erased by age, as spans of hours that follow each other; and what sealed hours and minutes weigh, a row a
  // logger and day (day 0: all days), so that nobody need read the whole file to know.
  `
  create table erased_span (
    logger integer not null, channel integer not null, from_hour integer not null, to_hour integer not null,
    first_ms integer not null, last_ms integer not null, sample_count integer not null, last_value real not null,
    last_unit text not null, erased_at_ms integer not null,
    primary key (logger, channel, from_hour)) without rowid;

  create table weight (
    day integer not null, logger integer not null, bytes integer not null, primary key (day, logger)) without rowid;
  insert into weight (day, logger, bytes)
    select day, logger, sum(bytes) from (
      select hour / 24 as day, logger, ${BLOCK_ROW_BYTES} + (select coalesce(sum(length(part)), 0) from block_payload
        where block_payload.id between block.id * 1024 and block.id * 1024 + 1023) as bytes from block
      union all select day, logger, ${DAY_ROW_BYTES} + length(payload) from day_summary)
    group by day, logger;
  insert into weight (day, logger, bytes) select 0, logger, sum(bytes) from weight group by logger;
  `,
];

/** Runs the steps that the file hasn't seen, each in one transaction with its number. */
export function migrate(database: SqliteDatabase, path: string, steps: readonly string[] = MIGRATIONS): void {
  const seen = database.pragma('user_version', { simple: true }) as number;
  if (seen > steps.length) {
    throw new Problem(
      'store_newer',
      `The store ${path} was written by a newer version of this program (schema ${seen}; this version knows ${steps.length}).`,
      'Start the newer version, or name another folder with --data.',
    );
  }
  for (let version = seen; version < steps.length; version++) {
    database
      .transaction(() => {
        database.exec(steps[version]!);
        database.pragma(`user_version = ${version + 1}`);
      })
      .immediate();
  }
}

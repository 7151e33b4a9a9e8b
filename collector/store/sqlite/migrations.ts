import { Problem } from '../../model/problem.ts';
import type { SqliteDatabase } from './open-database.ts';

/**
 * The schema's steps, in order. A step that was once released is never changed: a new one is added. The file's
 * `user_version` is the number of steps it has seen.
 *
 * Keys are logger first, so that everything of a logger lies together and could be distributed by it. Hours and days
 * count from 1970 in UTC. `block` keeps its rowid: rows then append in order of sealing and fill their pages, whatever
 * the number of loggers.
 */
export const MIGRATIONS: readonly string[] = [
  `
  create table logger_number (number integer primary key autoincrement, id text not null unique);

  create table tail_piece (
    logger integer not null, channel integer not null, hour integer not null, first_ms integer not null,
    last_ms integer not null, sample_count integer not null, fingerprint integer not null,
    lag_first_s integer not null, lag_last_s integer not null, lag_largest_s integer not null, samples blob not null,
    primary key (logger, channel, hour, first_ms)) without rowid;

  create table block (
    logger integer not null, channel integer not null, hour integer not null, version integer not null,
    first_ms integer not null, last_ms integer not null, sample_count integer not null,
    unit text, first_value real, last_value real, min_value real, max_value real, sum_value real,
    lag_first_s integer not null, lag_last_s integer not null, lag_largest_s integer not null,
    fingerprint integer not null, sha256 blob not null, payload blob not null);
  create unique index block_by_key on block (logger, channel, hour);

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
    number integer primary key autoincrement, logger_id text, topic text not null, at_ms integer not null,
    reason text not null, excerpt text not null);
  create index refusal_by_logger on refusal (logger_id, number);
  create table refusal_count (logger_id text primary key, count integer not null) without rowid;

  create table site (id text primary key, document text not null) without rowid;
  create table logger (id text primary key, document text not null) without rowid;
  create table placement (
    logger_id text not null, from_ms integer not null, site_id text, document text not null,
    primary key (logger_id, from_ms)) without rowid;
  create index placement_by_site on placement (site_id, from_ms);
  create table channel_setting (
    logger_id text not null, channel text not null, from_ms integer not null, document text not null,
    primary key (logger_id, channel, from_ms)) without rowid;
  create table calibration (
    logger_id text not null, channel text not null, from_ms integer not null, document text not null,
    primary key (logger_id, channel, from_ms)) without rowid;
  create table state (name text primary key, value text not null) without rowid;
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

import type { LoggerWeight } from '../port.ts';
import type { LoggerNumbers } from './logger-numbers.ts';
import type { SqliteDatabase } from './open-database.ts';

/** The row that stands for all days of a logger; no sample is as old as 1970. */
const ALL_DAYS = 0;
/** Growth is the mean of this many whole days at most: a week has working days and a weekend. */
const GROWTH_DAYS = 7;
/** Days of single rows kept: what growth is read from, and some more for late samples. */
const DAYS_KEPT = 35;

/** What each logger's sealed hours and minutes weigh, kept running. */
export interface Weights {
  /** Within the caller's transaction. `day`: of the samples, counted from 1970. */
  add(logger: number, day: number, bytes: number): void;
  /** Within the caller's transaction. */
  remove(logger: number): void;
  /** By the logger's number; `today`: counted from 1970, not yet whole. */
  read(today: number): Map<number, LoggerWeight>;
  /** Drops days that no growth is read from any more. */
  forgetOldDays(today: number): void;
}

export function createWeights(database: SqliteDatabase): Weights {
  const add = database.prepare(
    `insert into weight (day, logger, bytes) values (?, ?, ?)
     on conflict (day, logger) do update set bytes = bytes + excluded.bytes`,
  );
  const remove = database.prepare('delete from weight where logger = ?');
  const totals = database.prepare(`select logger, bytes from weight where day = ${ALL_DAYS}`).raw();
  const recent = database
    .prepare(
      `select logger, sum(bytes), min(day) from weight
       where day between @today - ${GROWTH_DAYS} and @today - 1 and bytes > 0 group by logger`,
    )
    .raw();
  const forget = database.prepare(`delete from weight where day > ${ALL_DAYS} and day < ?`);

  return {
    add(logger, day, bytes) {
      add.run(ALL_DAYS, logger, bytes);
      add.run(day, logger, bytes);
    },
    remove: (logger) => void remove.run(logger),
    read(today) {
      const growth = new Map<number, number>();
      for (const [logger, bytes, firstDay] of recent.all({ today }) as [number, number, number][])
        growth.set(logger, bytes / (today - firstDay));
      const found = new Map<number, LoggerWeight>();
      for (const [logger, bytes] of totals.all() as [number, number][])
        found.set(logger, { bytes: Math.max(0, bytes), bytesPerDay: growth.get(logger) });
      return found;
    },
    forgetOldDays: (today) => void forget.run(today - DAYS_KEPT),
  };
}

/** Weights by name, read anew at most once in this long: a fleet's list and health ask often. */
const KEPT_MS = 2_000;

export function createLoggerWeights(
  weights: Weights,
  numbers: LoggerNumbers,
  today: () => number,
): { read(): ReadonlyMap<string, LoggerWeight> } {
  let kept: { readonly atMs: number; readonly byName: ReadonlyMap<string, LoggerWeight> } | undefined;
  return {
    read() {
      const atMs = performance.now();
      if (kept && atMs - kept.atMs < KEPT_MS) return kept.byName;
      const byNumber = weights.read(today());
      const byName = new Map<string, LoggerWeight>();
      for (const [number, id] of numbers.names()) {
        const weight = byNumber.get(number);
        if (weight) byName.set(id, weight);
      }
      kept = { atMs, byName };
      return byName;
    },
  };
}

import type { SentRun } from '../../model/series.ts';
import { dayOfHour, type HourNumber, hourOf, startOfHourMs } from '../hours.ts';
import { cutRuns } from '../merge-runs.ts';
import { filterMinutes, MINUTE_MS } from '../minute-summary.ts';
import type { BlockRow, Blocks } from './blocks.ts';
import type { ErasedRow, ErasedSpans } from './erased-spans.ts';
import type { LoggerNumbers } from './logger-numbers.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { SettingsInTransaction } from './settings.ts';
import type { DaySummaries } from './summaries.ts';
import { type ArrivalLag, type ChannelKey, runsOfRow, type Tail } from './tail.ts';
import type { Weights } from './weights.ts';

/** Spans of time without an end are cut to what an hour number can be. */
const FIRST_MS = 0;
const LAST_MS = 8.64e15;

export interface Erasing {
  eraseSite(id: string): void;
  eraseLogger(id: string): void;
}

/**
 * Erases for good: rows are overwritten with noughts (`secure_delete`) and the write-ahead log, which still holds what
 * was erased, is emptied. Copies outside the file (backups, exports) are beyond it.
 */
export function createErasing(
  database: SqliteDatabase,
  parts: {
    numbers: LoggerNumbers;
    tail: Tail;
    blocks: Blocks;
    summaries: DaySummaries;
    erased: ErasedSpans;
    weights: Weights;
    settings: SettingsInTransaction;
    refusals: { remove(loggerId: string): void };
  },
): Erasing {
  const { numbers, tail, blocks, summaries, erased, weights, settings, refusals } = parts;
  const hoursOf = (table: 'tail_piece' | 'block') =>
    database
      .prepare(
        `select distinct hour from ${table} where logger = ? and channel = ? and hour between ? and ? order by hour`,
      )
      .pluck();
  const tailHours = hoursOf('tail_piece');
  const blockHours = hoursOf('block');
  const channels = database.prepare('select channel from latest where logger = ?').pluck();
  const removeLatest = database.prepare('delete from latest where logger = ? and channel = ?');
  const removeReseals = database.prepare(
    'delete from reseal where logger = ? and channel = ? and hour between ? and ?',
  );
  const removeNumber = database.prepare('delete from logger_number where number = ?');
  const extent = database.prepare(
    `select min(first_ms) as first_ms, max(last_ms) as last_ms, sum(sample_count) as sample_count from (
       select first_ms, last_ms, sample_count from tail_piece where logger = @logger and channel = @channel
       union all select first_ms, last_ms, sample_count from block where logger = @logger and channel = @channel
       union all select first_ms, last_ms, sample_count from erased_span where logger = @logger and channel = @channel)`,
  );
  const updateLatest = database.prepare(
    `update latest set first_ms = @first_ms, at_ms = @last_ms, value = @value, unit = @unit,
       arrived_ms = case when at_ms = @last_ms then arrived_ms else @arrived_ms end, sample_count = @sample_count
     where logger = @logger and channel = @channel`,
  );

  function eraseChannel(key: ChannelKey, fromMs: number, toMs: number): void {
    const from = hourOf(fromMs);
    const to = hourOf(toMs - 1);
    const touched = new Map<number, Map<HourNumber, readonly SentRun[]>>();
    const keep = (runs: readonly SentRun[]) => [...cutRuns(runs, FIRST_MS, fromMs), ...cutRuns(runs, toMs, LAST_MS)];
    for (const hour of tailHours.all(key.logger, key.channel, from, to) as HourNumber[]) {
      for (const row of tail.overlapping(key, hour, FIRST_MS, LAST_MS)) {
        if (row.last_ms < fromMs || row.first_ms >= toMs) continue;
        tail.deletePiece(key, row);
        if (row.first_ms >= fromMs && row.last_ms < toMs) continue;
        const lag = { firstS: row.lag_first_s, lastS: row.lag_last_s, largestS: row.lag_largest_s };
        for (const run of keep(runsOfRow(row))) tail.insert(key, hour, [run], lag);
      }
    }
    for (const hour of blockHours.all(key.logger, key.channel, from, to) as HourNumber[]) {
      const whole = startOfHourMs(hour) >= fromMs && startOfHourMs(hour + 1) <= toMs;
      // An hour that goes whole goes unread: what is damaged can be erased too.
      const left = cutBlock(key, hour, whole ? () => [] : (row) => keep(runsOfRow(row)));
      const ofDay = touched.get(dayOfHour(hour)) ?? new Map<HourNumber, readonly SentRun[]>();
      touched.set(dayOfHour(hour), ofDay.set(hour, left));
    }
    for (const [day, hours] of touched) summaries.replaceHours(key, day, hours);
    for (const row of erased.touching(key, from, to)) cutErased(key, row, fromMs, toMs);
    removeReseals.run(key.logger, key.channel, from, to);
    renewLatest(key);
  }

  function cutBlock(
    key: ChannelKey,
    hour: HourNumber,
    keep: (row: BlockRow) => readonly SentRun[],
  ): readonly SentRun[] {
    const row = blocks.read(key, hour)!;
    const left = keep(row);
    if (left.length === 0) {
      blocks.delete(key, row);
      return left;
    }
    const lag: ArrivalLag = { firstS: row.lag_first_s, lastS: row.lag_last_s, largestS: row.lag_largest_s };
    blocks.write(key, hour, row, left, lag);
    return left;
  }

  /** Of hours erased by age only minutes are left; those that touch the span go, and what is told of the rest is renewed. */
  function cutErased(key: ChannelKey, row: ErasedRow, fromMs: number, toMs: number): void {
    erased.remove(key, row);
    const outside = (minute: number) => (minute + 1) * MINUTE_MS <= fromMs || minute * MINUTE_MS >= toMs;
    const firstDay = dayOfHour(Math.max(row.from_hour, hourOf(fromMs)));
    const lastDay = dayOfHour(Math.min(row.to_hour, hourOf(toMs - 1)));
    const inRow = (minute: number) => {
      const hour = hourOf(minute * MINUTE_MS);
      return hour >= row.from_hour && hour <= row.to_hour;
    };
    for (let day = firstDay; day <= lastDay; day++) {
      summaries.cut(key, day, (minute) => !inRow(minute) || outside(minute));
    }
    const left = summaries
      .read(key, dayOfHour(row.from_hour), dayOfHour(row.to_hour))
      .map((minutes) => filterMinutes(minutes, inRow))
      .filter((minutes) => minutes.minute.length > 0);
    for (const before of [true, false]) {
      const part = left
        .map((minutes) => filterMinutes(minutes, (minute) => minute * MINUTE_MS < fromMs === before))
        .filter((minutes) => minutes.minute.length > 0)
        .sort((a, b) => a.minute.at(-1)! - b.minute.at(-1)!);
      const newest = part.at(-1);
      if (!newest) continue;
      const first = Math.min(...part.map((minutes) => minutes.minute[0]!));
      const last = newest.minute.at(-1)!;
      const whole = row.last_ms < (last + 1) * MINUTE_MS;
      erased.add(key, {
        from_hour: hourOf(first * MINUTE_MS),
        to_hour: hourOf(last * MINUTE_MS),
        first_ms: Math.max(row.first_ms, first * MINUTE_MS),
        last_ms: whole ? row.last_ms : (last + 1) * MINUTE_MS - 1,
        sample_count: part.reduce((sum, { count }) => sum + count.reduce((a, b) => a + b, 0), 0),
        last_value: whole ? row.last_value : newest.sum.at(-1)! / newest.count.at(-1)!,
        last_unit: whole ? row.last_unit : newest.unit,
        erased_at_ms: row.erased_at_ms,
      });
    }
  }

  function renewLatest(key: ChannelKey): void {
    const span = extent.get(key) as { first_ms: number | null; last_ms: number; sample_count: number };
    if (span.first_ms === null) {
      removeLatest.run(key.logger, key.channel);
      return;
    }
    const hour = hourOf(span.last_ms);
    const block = blocks.overlapping(key, hour, span.last_ms, span.last_ms);
    const pieces = tail.overlapping(key, hour, span.last_ms, span.last_ms).flatMap(runsOfRow);
    const runs = [...(block ? runsOfRow(block) : []), ...pieces];
    const [sample] = cutRuns(runs, span.last_ms, span.last_ms + 1);
    const aged = erased.touching(key, hour, hour).at(-1);
    const newest = sample
      ? { value: sample.value[0]!, unit: sample.unit }
      : { value: aged!.last_value, unit: aged!.last_unit };
    updateLatest.run({
      ...key,
      ...span,
      ...newest,
      arrived_ms: Math.max(span.last_ms, startOfHourMs(hour)),
    });
  }

  function eraseSpan(loggerId: string, fromMs: number, toMs: number): void {
    const logger = numbers.find(loggerId);
    if (logger === undefined || fromMs >= toMs) return;
    for (const channel of channels.all(logger) as number[]) eraseChannel({ logger, channel }, fromMs, toMs);
  }

  const eraseSite = database.transaction((siteId: string) => {
    for (const loggerId of settings.loggersOnceAt(siteId)) {
      const placements = settings.placementsOf(loggerId);
      placements.forEach((placement, i) => {
        if (placement.siteId !== siteId) return;
        // A logger's first placement also covers what is older than it: history imported after the logger was added.
        const fromMs = i === 0 ? FIRST_MS : Math.max(placement.fromMs, FIRST_MS);
        eraseSpan(loggerId, fromMs, placements[i + 1]?.fromMs ?? LAST_MS);
      });
    }
    settings.removeSite(siteId);
  });

  const eraseLogger = database.transaction((loggerId: string) => {
    eraseSpan(loggerId, FIRST_MS, LAST_MS);
    const logger = numbers.find(loggerId);
    if (logger !== undefined) {
      weights.remove(logger);
      removeNumber.run(logger);
    }
    settings.removeLogger(loggerId);
    refusals.remove(loggerId);
  });

  function forGood(action: () => void): void {
    database.pragma('secure_delete = ON');
    try {
      action();
    } finally {
      database.pragma('secure_delete = FAST');
      numbers.forget();
    }
    database.pragma('wal_checkpoint(TRUNCATE)');
  }

  return {
    eraseSite: (id) => forGood(() => eraseSite.immediate(id)),
    eraseLogger: (id) => forGood(() => eraseLogger.immediate(id)),
  };
}

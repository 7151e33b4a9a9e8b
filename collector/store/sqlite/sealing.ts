import type { SentRun } from '../../model/series.ts';
import { dayOfHour, firstOpenHour, type HourNumber } from '../hours.ts';
import { countSamples, mergeRuns } from '../merge-runs.ts';
import { sealOf } from '../sample-digest.ts';
import type { Blocks } from './blocks.ts';
import { isDamage } from './damaged-hours.ts';
import type { SqliteDatabase } from './open-database.ts';
import { joinLags } from './sample-writer.ts';
import type { DaySummaries } from './summaries.ts';
import { type ArrivalLag, type ChannelKey, runsOfRow, type Tail, type TailRow, trueRunsOfRow } from './tail.ts';
import type { WaitingHours } from './waiting-hours.ts';

/** Hours of one channel that one transaction seals at most: four weeks of an imported file. */
const MOST_HOURS_A_TRANSACTION = 672;

/** Another process wrote the block in between; the hour stays for the next turn. */
class VersionMoved extends Error {}

/** What is stored of an hour can't be read. Its late samples stay in the tail, and the other hours go on. */
class UnreadableHour extends Error {
  readonly hour: HourNumber;

  constructor(hour: HourNumber, cause: unknown) {
    super(`hour ${hour} can't be read`, { cause });
    this.hour = hour;
  }
}

export interface Sealing {
  /** Seals closed hours for about `budgetMs`; returns how many still wait. */
  seal(nowMs: number, budgetMs: number): number;
  waiting(nowMs: number): number;
}

/**
 * Closed hours → blocks. One transaction a channel takes its hours out of the tail, merges each with the block that may
 * already be there, and writes block and day summaries; so a process that dies in between has changed nothing.
 */
export function createSealing(
  database: SqliteDatabase,
  parts: { tail: Tail; blocks: Blocks; summaries: DaySummaries; waiting: WaitingHours },
): Sealing {
  const { tail, blocks, summaries, waiting } = parts;
  const recordReseal = database.prepare(
    `insert into reseal (logger, channel, hour, reason, first_at_ms, last_at_ms, times, samples_added)
     values (?,?,?,?,?,?,1,?)
     on conflict (logger, channel, hour, reason) do update set last_at_ms = excluded.last_at_ms, times = times + 1,
       samples_added = samples_added + excluded.samples_added`,
  );

  function sealHour(key: ChannelKey, hour: HourNumber, nowMs: number): readonly SentRun[] {
    const rows = tail.takeHour(key, hour);
    const pieces = rows.map(trueRunsOfRow);
    const block = blocks.read(key, hour);
    const sealed = block ? runsOfRow(block) : [];
    if (rows.length === 0) return sealed;
    if (block && !equalBytes(sealOf(sealed), block.sha256)) {
      throw new RangeError(`the samples of logger ${key.logger}, hour ${hour} don't match their seal`);
    }
    const runs = mergeRuns([sealed, ...pieces]);
    const lags = rows.map(lagOfRow);
    if (block) lags.unshift(lagOfRow(block));
    if (!blocks.write(key, hour, block, runs, lags.reduce(joinLags))) throw new VersionMoved();
    if (block) {
      const added = countSamples(runs) - block.sample_count;
      recordReseal.run(key.logger, key.channel, hour, 'late_samples', nowMs, nowMs, added);
    }
    return runs;
  }

  const sealChannel = database.transaction(
    (key: ChannelKey, hours: readonly HourNumber[], nowMs: number, deadlineMs: number): HourNumber[] => {
      const done: HourNumber[] = [];
      let day: number | undefined;
      let ofDay = new Map<HourNumber, readonly SentRun[]>();
      for (const hour of hours.slice(0, MOST_HOURS_A_TRANSACTION)) {
        if (day !== undefined && dayOfHour(hour) !== day) {
          summaries.replaceHours(key, day, ofDay);
          ofDay = new Map();
        }
        day = dayOfHour(hour);
        try {
          ofDay.set(hour, sealHour(key, hour, nowMs));
        } catch (error) {
          throw isDamage(database.name, error) ? new UnreadableHour(hour, error) : error;
        }
        done.push(hour);
        if (performance.now() >= deadlineMs) break;
      }
      if (day !== undefined) summaries.replaceHours(key, day, ofDay);
      return done;
    },
  );

  return {
    waiting: (nowMs) => waiting.count(firstOpenHour(nowMs)),
    seal(nowMs, budgetMs) {
      const firstOpen = firstOpenHour(nowMs);
      const deadlineMs = performance.now() + budgetMs;
      for (;;) {
        const next = waiting.next(firstOpen);
        if (!next) return 0;
        try {
          const done = sealChannel.immediate(next.key, next.hours, nowMs, deadlineMs);
          for (const hour of done) waiting.remove(next.key, hour);
        } catch (error) {
          if (error instanceof VersionMoved) return waiting.count(firstOpen);
          if (!(error instanceof UnreadableHour)) throw error;
          // Told once; it is tried again at the next start, after the file may have been put right.
          waiting.remove(next.key, error.hour);
          throw error.cause;
        }
        if (performance.now() >= deadlineMs) return waiting.count(firstOpen);
      }
    },
  };
}

function lagOfRow(row: Pick<TailRow, 'lag_first_s' | 'lag_last_s' | 'lag_largest_s'>): ArrivalLag {
  return { firstS: row.lag_first_s, lastS: row.lag_last_s, largestS: row.lag_largest_s };
}

function equalBytes(a: Uint8Array, b: Uint8Array): boolean {
  return Buffer.compare(a, b) === 0;
}

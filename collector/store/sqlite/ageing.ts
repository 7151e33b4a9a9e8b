import { DAY_MS, dayOfHour, HOUR_MS, type HourNumber, hourOf } from '../hours.ts';
import { MINUTE_MS } from '../minute-summary.ts';
import { dueHours } from '../retention.ts';
import type { BlockRow, Blocks } from './blocks.ts';
import type { ErasedSpans } from './erased-spans.ts';
import type { LoggerNumbers } from './logger-numbers.ts';
import type { SqliteDatabase } from './open-database.ts';
import type { SettingsInTransaction } from './settings.ts';
import type { DaySummaries } from './summaries.ts';
import { type ChannelKey, trueRunsOfRow } from './tail.ts';

/** Hours that one transaction erases at most: a week of one channel. */
const MOST_HOURS_A_TRANSACTION = 168;

export interface Ageing {
  /** Erases what is due for about `budgetMs`; false once nothing is. */
  erase(nowMs: number, budgetMs: number): boolean;
}

/**
 * Erases the samples of sealed hours that are older than their site keeps them. The minutes of an hour are compared with
 * its count first: samples go only where their summary stands. What can't be read is left for a check to tell.
 */
export function createAgeing(
  database: SqliteDatabase,
  parts: {
    numbers: LoggerNumbers;
    blocks: Blocks;
    summaries: DaySummaries;
    erased: ErasedSpans;
    settings: SettingsInTransaction;
  },
): Ageing {
  const { numbers, blocks, summaries, erased, settings } = parts;
  /** Where a round that takes several turns goes on: hours that can't be erased aren't looked at in every turn. */
  const reached = new Map<string, HourNumber>();
  const channels = database.prepare('select channel from latest where logger = ?').pluck();
  // Hours with samples in the tail are sealed anew first.
  const sealedHours = database
    .prepare(
      `select hour from block where logger = @logger and channel = @channel and hour between @from and @to
         and not exists (select 1 from tail_piece where tail_piece.logger = block.logger
           and tail_piece.channel = block.channel and tail_piece.hour = block.hour)
       order by hour limit ${MOST_HOURS_A_TRANSACTION}`,
    )
    .pluck();

  const eraseHours = database.transaction(
    (key: ChannelKey, hours: readonly HourNumber[], nowMs: number, deadlineMs: number): HourNumber => {
      let day: number | undefined;
      let counts = new Map<HourNumber, number>();
      for (const hour of hours) {
        if (dayOfHour(hour) !== day) {
          day = dayOfHour(hour);
          counts = countsOfDay(key, day);
        }
        eraseHour(key, hour, counts.get(hour), nowMs);
        if (performance.now() >= deadlineMs) return hour;
      }
      return hours.at(-1)!;
    },
  );

  function countsOfDay(key: ChannelKey, day: number): Map<HourNumber, number> {
    const counts = new Map<HourNumber, number>();
    for (const { minute, count } of readable(() => summaries.read(key, day, day)) ?? [])
      minute.forEach((at, i) => {
        const hour = Math.floor((at * MINUTE_MS) / HOUR_MS);
        counts.set(hour, (counts.get(hour) ?? 0) + count[i]!);
      });
    return counts;
  }

  function eraseHour(key: ChannelKey, hour: HourNumber, inMinutes: number | undefined, nowMs: number): void {
    const block = readable(() => blocks.read(key, hour));
    if (!block || block.sample_count !== inMinutes) return;
    const newest = readable(() => newestOf(block));
    if (!newest) return;
    blocks.delete(key, block);
    erased.add(key, {
      from_hour: hour,
      to_hour: hour,
      first_ms: block.first_ms,
      last_ms: block.last_ms,
      sample_count: block.sample_count,
      last_value: newest.value,
      last_unit: newest.unit,
      erased_at_ms: nowMs,
    });
  }

  function eraseUntil(nowMs: number, deadlineMs: number): boolean {
    const keptDays = new Map(
      settings.allSites().flatMap((site) => (site.keepRawDays ? [[site.id, site.keepRawDays] as const] : [])),
    );
    if (keptDays.size === 0) return false;
    const cutHour = (siteId: string | undefined): HourNumber => {
      const days = siteId === undefined ? undefined : keptDays.get(siteId);
      return days === undefined ? Number.NEGATIVE_INFINITY : hourOf(nowMs - days * DAY_MS);
    };
    for (const [loggerId, placements] of settings.allPlacements()) {
      const logger = numbers.find(loggerId);
      if (logger === undefined) continue;
      const due = dueHours(placements, cutHour);
      if (due.length === 0) continue;
      for (const channel of channels.all(logger) as number[]) {
        const key = { logger, channel };
        const name = `${logger}/${channel}`;
        for (const { from, to } of due) {
          for (;;) {
            const next = Math.max(from, reached.get(name) ?? from);
            const hours = sealedHours.all({ ...key, from: next, to: to - 1 }) as HourNumber[];
            if (hours.length === 0) break;
            reached.set(name, eraseHours.immediate(key, hours, nowMs, deadlineMs) + 1);
            if (performance.now() >= deadlineMs) return true;
          }
        }
      }
    }
    reached.clear();
    return false;
  }

  return {
    erase(nowMs, budgetMs) {
      // Overwritten in the file, not merely let go of.
      database.pragma('secure_delete = ON');
      try {
        return eraseUntil(nowMs, performance.now() + budgetMs);
      } finally {
        database.pragma('secure_delete = FAST');
      }
    },
  };
}

function newestOf(block: BlockRow): { unit: string; value: number } | undefined {
  const last = trueRunsOfRow(block).at(-1);
  return last && { unit: last.unit, value: last.value.at(-1)! };
}

/** Undefined where the bytes can't be unpacked. */
function readable<Result>(action: () => Result): Result | undefined {
  try {
    return action();
  } catch (error) {
    if (
      error instanceof RangeError ||
      (error instanceof Error && 'code' in error && String(error.code).startsWith('Z_'))
    )
      return undefined;
    throw error;
  }
}

import type { Channel } from '../../model/channel.ts';
import type { SentRun } from '../../model/series.ts';
import { channelOfNumber, HOURS_PER_DAY, type HourNumber, hourOf, startOfHourMs } from '../hours.ts';
import { countSamples } from '../merge-runs.ts';
import { decodeDay, filterMinutes, joinMinutes, MINUTE_MS, type Minutes, minutesOf } from '../minute-summary.ts';
import {
  FAULTS_TOLD,
  type RecordCheck,
  type RecordFault,
  type RecordFaultKind,
  type UpkeepProgress,
} from '../record-check.ts';
import { sealOf } from '../sample-digest.ts';
import { describeBlock, PAYLOAD_OF_BLOCK } from './blocks.ts';
import { createErasedSpans } from './erased-spans.ts';
import type { SqliteDatabase } from './open-database.ts';
import { type ChannelKey, runsOfRow } from './tail.ts';

/** Faults of the file's structure that SQLite is asked to tell. */
const FILE_FAULTS = 100;

interface BlockToCheck extends Record<string, unknown> {
  readonly hour: HourNumber;
  readonly sample_count: number;
  readonly lag_first_s: number;
  readonly lag_last_s: number;
  readonly lag_largest_s: number;
  readonly sha256: Uint8Array;
  readonly samples: Uint8Array | null;
}

/**
 * Reads the whole record: the file's structure, every seal, every minute, every count. A generator, so that the caller
 * may do something else between days; each day is looked at in one transaction, since the intake may go on meanwhile.
 */
export function* checkRecord(database: SqliteDatabase): Generator<UpkeepProgress, RecordCheck> {
  const faults: RecordFault[] = [];
  let faultCount = 0;
  let hours = 0;
  let samples = 0;
  let where: { loggerId: string; channel: Channel | undefined } | undefined;

  function tell(kind: RecordFaultKind, hour: HourNumber | undefined, seen: string): void {
    faultCount += 1;
    if (faults.length >= FAULTS_TOLD) return;
    const hourMs = hour === undefined ? undefined : startOfHourMs(hour);
    faults.push({ kind, loggerId: where?.loggerId, channel: where?.channel, hourMs, seen });
  }

  /** A page that can't be read ends one part of the check, never the whole. */
  function guarded<Result>(action: () => Result): Result | undefined {
    try {
      return action();
    } catch (error) {
      tell('file_damaged', undefined, wordsOf(error));
      return undefined;
    }
  }

  const structure = guarded(() => database.pragma(`integrity_check(${FILE_FAULTS})`) as { integrity_check: string }[]);
  for (const { integrity_check: answer } of structure ?? []) {
    if (answer !== 'ok') tell('file_damaged', undefined, answer);
  }

  const selectBlocks = database.prepare(
    `select block.*, ${PAYLOAD_OF_BLOCK} as samples from block
     where logger = ? and channel = ? and hour between ? and ? order by hour`,
  );
  const selectPieces = database.prepare(
    'select hour, samples from tail_piece where logger = ? and channel = ? and hour between ? and ?',
  );
  const selectDay = database
    .prepare('select payload from day_summary where logger = ? and channel = ? and day = ?')
    .pluck();
  const selectDays = database
    .prepare(
      `select distinct hour / ${HOURS_PER_DAY} as day from block where logger = @logger and channel = @channel
       union select distinct hour / ${HOURS_PER_DAY} from tail_piece where logger = @logger and channel = @channel
       union select day from day_summary where logger = @logger and channel = @channel order by day`,
    )
    .pluck();
  const selectCounts = database.prepare(
    `select (select sample_count from latest where logger = @logger and channel = @channel) as told,
       (select coalesce(sum(sample_count), 0) from tail_piece where logger = @logger and channel = @channel)
       + (select coalesce(sum(sample_count), 0) from block where logger = @logger and channel = @channel)
       + (select coalesce(sum(sample_count), 0) from erased_span where logger = @logger and channel = @channel) as found`,
  );

  const selectErased = database
    .prepare('select coalesce(sum(sample_count), 0) from erased_span where logger = @logger and channel = @channel')
    .pluck();
  const erased = createErasedSpans(database);
  let inErasedMinutes = 0;

  function checkBlock(row: BlockToCheck): readonly SentRun[] | undefined {
    hours += 1;
    let runs: SentRun[];
    try {
      runs = runsOfRow({ hour: row.hour, samples: row.samples ?? new Uint8Array() });
      if (runs.length === 0) throw new RangeError('it holds no samples');
    } catch (error) {
      tell('hour_unreadable', row.hour, wordsOf(error));
      return undefined;
    }
    samples += countSamples(runs);
    if (Buffer.compare(sealOf(runs), row.sha256) !== 0) {
      tell('seal_differs', row.hour, `its ${countSamples(runs)} samples give another SHA-256`);
      return undefined;
    }
    const lag = { firstS: row.lag_first_s, lastS: row.lag_last_s, largestS: row.lag_largest_s };
    const differing = Object.entries(describeBlock(runs, lag)).filter(([name, value]) => !same(row[name], value));
    if (differing.length > 0) tell('columns_differ', row.hour, differing.map(([name]) => name).join(', '));
    return runs;
  }

  const checkDay = database.transaction((key: ChannelKey, day: number) => {
    const [from, to] = [day * HOURS_PER_DAY, (day + 1) * HOURS_PER_DAY - 1];
    const expected: Minutes[] = [];
    const unknown = new Set<HourNumber>();
    for (const row of selectBlocks.all(key.logger, key.channel, from, to) as BlockToCheck[]) {
      const runs = checkBlock(row);
      if (runs) expected.push(...minutesOf(runs));
      else unknown.add(row.hour);
    }
    for (const row of selectPieces.all(key.logger, key.channel, from, to) as { hour: number; samples: Uint8Array }[]) {
      try {
        samples += countSamples(runsOfRow(row));
      } catch (error) {
        tell('piece_unreadable', row.hour, wordsOf(error));
      }
    }
    const payload = selectDay.get(key.logger, key.channel, day) as Uint8Array | undefined;
    let kept: Minutes[];
    try {
      kept = payload ? decodeDay(day, payload) : [];
    } catch (error) {
      tell('summary_differs', from, `the day's minutes can't be unpacked: ${wordsOf(error)}`);
      return;
    }
    // Of hours erased by age only the minutes are left: nothing to compare them with but the number of their samples.
    const spans = erased.touching(key, from, to);
    const aged = (hour: HourNumber) => spans.some((span) => span.from_hour <= hour && hour <= span.to_hour);
    for (let hour = from; hour <= to; hour++) if (aged(hour)) unknown.add(hour);
    const ofAged = kept.map((minutes) => filterMinutes(minutes, (minute) => aged(hourOf(minute * MINUTE_MS))));
    inErasedMinutes += ofAged.reduce((sum, { count }) => sum + count.reduce((a, b) => a + b, 0), 0);
    const comparable = kept.map((minutes) =>
      filterMinutes(minutes, (minute) => !unknown.has(hourOf(minute * MINUTE_MS))),
    );
    for (const hour of differingHours(joinMinutes(expected), joinMinutes(comparable))) {
      tell('summary_differs', hour, "the minutes kept aren't those of its samples");
    }
  });

  const names = new Map(
    (
      guarded(() => database.prepare('select number, id from logger_number').all()) as
        | { number: number; id: string }[]
        | undefined
    )?.map(({ number, id }) => [number, id]),
  );
  const channels = (guarded(() =>
    database.prepare('select logger, channel from latest union select distinct logger, channel from block').all(),
  ) ?? []) as ChannelKey[];
  const total = (guarded(() => database.prepare('select count(*) from block').pluck().get()) as number) ?? 0;
  yield { done: 0, total };
  for (const key of channels) {
    where = {
      loggerId: names.get(key.logger) ?? `number ${key.logger}`,
      channel: channelOfNumber(key.channel),
    };
    // More may be erased while this reads: then the sums don't belong together and say nothing.
    const erasedBefore = guarded(() => selectErased.get(key));
    inErasedMinutes = 0;
    for (const day of (guarded(() => selectDays.all(key)) ?? []) as number[]) {
      guarded(() => checkDay.deferred(key, day));
      yield { done: hours, total: Math.max(total, hours) };
    }
    const counts = guarded(() => selectCounts.get(key)) as { told: number | null; found: number } | undefined;
    if (counts && (counts.told ?? 0) !== counts.found)
      tell('count_differs', undefined, `${counts.told ?? 0} are told, ${counts.found} are there`);
    const erasedAfter = guarded(() => selectErased.get(key));
    if (erasedBefore === erasedAfter && erasedAfter !== inErasedMinutes)
      tell(
        'summary_differs',
        undefined,
        `of ${erasedAfter} samples erased by age, the minutes kept tell ${inErasedMinutes}`,
      );
    where = undefined;
  }
  return { hours, samples, faults, faultCount };
}

/** Hours in which two days' minutes differ in any unit, count, extreme or sum. */
function differingHours(expected: readonly Minutes[], kept: readonly Minutes[]): HourNumber[] {
  const words = (parts: readonly Minutes[]) => {
    const byMinute = new Map<string, { hour: HourNumber; text: string }>();
    for (const { unit, minute, min, max, sum, count } of parts)
      minute.forEach((at, i) => {
        byMinute.set(`${at} ${unit}`, {
          hour: hourOf(at * MINUTE_MS),
          text: [min, max, sum, count].map((c) => c[i]).join(),
        });
      });
    return byMinute;
  };
  const [wanted, found] = [words(expected), words(kept)];
  const hours = new Set<HourNumber>();
  for (const [name, { hour, text }] of wanted) if (found.get(name)?.text !== text) hours.add(hour);
  for (const [name, { hour }] of found) if (!wanted.has(name)) hours.add(hour);
  return [...hours].sort((a, b) => a - b);
}

function same(kept: unknown, made: unknown): boolean {
  if (kept instanceof Uint8Array && made instanceof Uint8Array) return Buffer.compare(kept, made) === 0;
  return kept === made;
}

function wordsOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

import { createHash } from 'node:crypto';
import { setImmediate as nextTurn } from 'node:timers/promises';
import type { Channel } from '../../model/channel.ts';
import { Problem } from '../../model/problem.ts';
import type { LatestSample, SentRun } from '../../model/series.ts';
import { CHANNEL_NUMBER, channelOfNumber, DAY_MS, HOUR_MS, type HourNumber, hourOf, startOfHourMs } from '../hours.ts';
import { cutRuns, mergeRuns } from '../merge-runs.ts';
import { bucketsOf, MINUTE_MS, sliceMinutes } from '../minute-summary.ts';
import type { ErasedSpan, SampleReader } from '../port.ts';
import { addFingerprints } from '../sample-digest.ts';
import { PAYLOAD_OF_BLOCK } from './blocks.ts';
import { type DamagedPlace, damagedHours, isDamage } from './damaged-hours.ts';
import type { ErasedSpans } from './erased-spans.ts';
import type { LoggerNumbers } from './logger-numbers.ts';
import { asProblem, type SqliteDatabase } from './open-database.ts';
import type { DaySummaries } from './summaries.ts';
import { createSummaryReader } from './summary-reader.ts';
import { type ChannelKey, trueRunsOfRow } from './tail.ts';

/** Hours fetched by one statement: still packed, so a day of them is some 60 kB. */
const HOURS_A_FETCH = 24;
/** A long reading lets others have their turn after this many milliseconds. */
const LONGEST_STRETCH_MS = 10;
/** Days looked through for the one that is damaged: some eleven years. */
const MOST_DAYS_SEARCHED = 4000;
/** Beyond any time that is stored, yet small enough for whole-number arithmetic. */
const END_OF_TIME_MS = 8.64e15;

export function createSampleReader(
  database: SqliteDatabase,
  parts: { numbers: LoggerNumbers; summaries: DaySummaries; erased: ErasedSpans },
): SampleReader {
  const { numbers, summaries, erased } = parts;
  const path = database.name;
  // One statement sees one state of the file: an hour that is being sealed is in the tail or in its block, never in both.
  const selectHours = database.prepare(
    `select 0 as sealed, hour, fingerprint, samples from tail_piece where logger = @logger and channel = @channel
       and hour between @from and @to
     union all
     select 1, hour, fingerprint, ${PAYLOAD_OF_BLOCK} from block
       where logger = @logger and channel = @channel and hour between @from and @to`,
  );
  const selectNextHour = database.prepare(
    `select min(hour) as hour from (
       select min(hour) as hour from tail_piece where logger = @logger and channel = @channel and hour >= @from
       union all
       select min(hour) from block where logger = @logger and channel = @channel and hour >= @from)`,
  );
  const selectFingerprints = database.prepare(
    `select hour, sample_count, fingerprint from tail_piece where logger = @logger and channel = @channel
       and hour between @from and @to
     union all
     select hour, sample_count, fingerprint from block where logger = @logger and channel = @channel
       and hour between @from and @to`,
  );
  const selectLatest = database.prepare('select channel, at_ms, value, unit, arrived_ms from latest where logger = ?');
  const selectExtent = database.prepare(
    'select first_ms, at_ms, sample_count from latest where logger = ? and channel = ?',
  );

  function keyOf(loggerId: string, channel: Channel): ChannelKey | undefined {
    const logger = numbers.find(loggerId);
    return logger === undefined ? undefined : { logger, channel: CHANNEL_NUMBER[channel] };
  }

  function erasedHours(key: ChannelKey, fromMs: number, toMs: number): ErasedSpan[] {
    if (!(fromMs < toMs)) return [];
    const [from, to] = [hourOf(Math.max(fromMs, 0)), hourOf(Math.min(toMs, END_OF_TIME_MS) - 1)];
    return erased.touching(key, from, to).map(({ from_hour, to_hour, sample_count: count }) => ({
      fromMs: startOfHourMs(from_hour),
      toMs: startOfHourMs(to_hour + 1),
      count,
    }));
  }

  function fetchHours(key: ChannelKey, from: HourNumber, to: HourNumber): Map<HourNumber, SentRun[][]> {
    const rows = selectHours.all({ ...key, from, to }) as PackedRow[];
    // Blocks first: should a time ever be in both, the sealed value stands.
    rows.sort((a, b) => a.hour - b.hour || b.sealed - a.sealed);
    const hours = new Map<HourNumber, SentRun[][]>();
    for (const row of rows) {
      const lists = hours.get(row.hour);
      if (lists) lists.push(trueRunsOfRow(row));
      else hours.set(row.hour, [trueRunsOfRow(row)]);
    }
    return hours;
  }

  /** What is damaged is told with its hour: the day is read again hour by hour. */
  function fetchTelling(place: DamagedPlace, key: ChannelKey, from: HourNumber, to: HourNumber) {
    const whole = { ...place, fromMs: startOfHourMs(from), toMs: startOfHourMs(to + 1) };
    return telling(whole, () => {
      try {
        return fetchHours(key, from, to);
      } catch (error) {
        if (!isDamage(path, error)) throw error;
        for (let hour = from; hour <= to; hour++) {
          const one = { ...place, fromMs: startOfHourMs(hour), toMs: startOfHourMs(hour + 1) };
          telling(one, () => fetchHours(key, hour, hour));
        }
        throw error;
      }
    });
  }

  async function* runs(loggerId: string, channel: Channel, fromMs: number, toMs: number): AsyncGenerator<SentRun> {
    const key = keyOf(loggerId, channel);
    if (!key || !(fromMs < toMs)) return;
    const last = hourOf(Math.min(toMs, END_OF_TIME_MS) - 1);
    let from = hourOf(Math.max(fromMs, 0));
    let turnMs = performance.now();
    while (from <= last) {
      const place = { loggerId, channel, fromMs: startOfHourMs(from), toMs };
      const next = telling(place, () => selectNextHour.get({ ...key, from }) as { hour: HourNumber | null });
      if (next.hour === null || next.hour > last) return;
      const first = next.hour;
      const to = Math.min(first + HOURS_A_FETCH - 1, last);
      const hours = fetchTelling(place, key, first, to);
      for (const lists of hours.values()) {
        if (performance.now() - turnMs > LONGEST_STRETCH_MS) {
          await nextTurn();
          turnMs = performance.now();
        }
        yield* cutRuns(mergeRuns(lists), fromMs, toMs);
      }
      from = to + 1;
    }
  }

  const summaryReader = createSummaryReader(database, {
    summaries,
    erased,
    samplesOf: (key, hour) => [...fetchHours(key, hour, hour).values()].flatMap(mergeRuns),
    nextHour: (key, from) => (selectNextHour.get({ ...key, from }) as { hour: HourNumber | null }).hour,
    read,
  });

  function read<Result>(action: () => Result): Result {
    try {
      return action();
    } catch (error) {
      throw asProblem(path, error);
    }
  }

  function telling<Result>(place: DamagedPlace, action: () => Result): Result {
    try {
      return action();
    } catch (error) {
      if (error instanceof Problem) throw error;
      throw isDamage(path, error) ? damagedHours(path, place, error) : asProblem(path, error);
    }
  }

  /** The first day whose minutes can't be read; the whole span where none by itself is at fault. */
  function damagedDay(place: DamagedPlace, key: ChannelKey): DamagedPlace {
    const firstDay = Math.floor(place.fromMs / DAY_MS);
    const lastDay = Math.min(Math.floor((place.toMs - 1) / DAY_MS), firstDay + MOST_DAYS_SEARCHED);
    for (let day = firstDay; day <= lastDay; day++) {
      try {
        summaries.read(key, day, day);
      } catch {
        return { ...place, fromMs: day * DAY_MS, toMs: (day + 1) * DAY_MS };
      }
    }
    return place;
  }

  return {
    runs,
    async summaries(loggerId, channel, fromMs, toMs, level) {
      const key = keyOf(loggerId, channel);
      const from = Math.max(fromMs, 0);
      const to = Math.min(toMs, END_OF_TIME_MS);
      if (!key || !(from < to)) return [];
      const stepMs = level === 'minute' ? MINUTE_MS : HOUR_MS;
      const firstMinute = (Math.floor(from / stepMs) * stepMs) / MINUTE_MS;
      const endMinute = (Math.ceil(to / stepMs) * stepMs) / MINUTE_MS;
      const found = await summaryReader.read(key, from, to, level).catch((error: unknown) => {
        if (!isDamage(path, error)) throw error;
        throw damagedHours(path, damagedDay({ loggerId, channel, fromMs: from, toMs: to }, key), error);
      });
      return found
        .map((minutes) => sliceMinutes(minutes, firstMinute, endMinute))
        .filter((minutes) => minutes.minute.length > 0)
        .map((minutes) => ({ unit: minutes.unit, summary: bucketsOf(minutes, stepMs) }));
    },
    async erasedSpans(loggerId, channel, fromMs, toMs) {
      const key = keyOf(loggerId, channel);
      return key ? read(() => erasedHours(key, fromMs, toMs)) : [];
    },
    async extent(loggerId, channel) {
      const key = keyOf(loggerId, channel);
      if (!key) return undefined;
      const row = read(() => selectExtent.get(key.logger, key.channel)) as
        | { first_ms: number; at_ms: number; sample_count: number }
        | undefined;
      return row && { firstMs: row.first_ms, lastMs: row.at_ms, count: row.sample_count };
    },
    async latest(loggerIds) {
      const found: LatestSample[] = [];
      for (const loggerId of loggerIds) {
        const logger = numbers.find(loggerId);
        if (logger === undefined) continue;
        for (const row of read(() => selectLatest.all(logger)) as LatestRow[]) {
          const channel = channelOfNumber(row.channel);
          if (!channel) continue;
          const { at_ms: atMs, value, unit, arrived_ms: arrivedMs } = row;
          found.push({ loggerId, channel, atMs, value, unit, arrivedMs });
        }
      }
      return found;
    },
    async spanDigest(loggerId, channel, fromMs, toMs) {
      const key = keyOf(loggerId, channel);
      const hours = new Map<HourNumber, { count: number; fingerprint: number }>();
      if (key && fromMs < toMs) {
        const from = hourOf(Math.max(fromMs, 0));
        const to = hourOf(Math.min(toMs, END_OF_TIME_MS) - 1);
        const rows = read(() => selectFingerprints.all({ ...key, from, to })) as FingerprintRow[];
        for (const row of rows) {
          const hour = hours.get(row.hour) ?? { count: 0, fingerprint: 0 };
          hour.count += row.sample_count;
          hour.fingerprint = addFingerprints(hour.fingerprint, row.fingerprint);
          hours.set(row.hour, hour);
        }
      }
      const hash = createHash('sha256');
      // A span keeps its samples' hours apart from those whose samples went: what is made of them differs.
      for (const span of key ? read(() => erasedHours(key, fromMs, toMs)) : []) {
        const from = Math.max(hourOf(span.fromMs), hourOf(fromMs));
        const to = Math.min(hourOf(span.toMs - 1), hourOf(toMs - 1));
        hash.update(`erased ${from} ${to}\n`);
      }
      for (const [hour, { count, fingerprint }] of [...hours].sort(([a], [b]) => a - b)) {
        hash.update(`${hour} ${count} ${fingerprint}\n`);
      }
      return hash.digest('hex');
    },
  };
}

interface PackedRow {
  readonly sealed: number;
  readonly hour: HourNumber;
  readonly fingerprint: number;
  readonly samples: Uint8Array | null;
}

interface LatestRow {
  readonly channel: number;
  readonly at_ms: number;
  readonly value: number;
  readonly unit: string;
  readonly arrived_ms: number;
}

interface FingerprintRow {
  readonly hour: HourNumber;
  readonly sample_count: number;
  readonly fingerprint: number;
}

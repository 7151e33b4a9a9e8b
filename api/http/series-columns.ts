import { CANONICAL_UNIT, type Channel } from '../../collector/model/channel.ts';
import type { SummarySeries } from '../../collector/model/series.ts';
import { convertedSummaries, readConverted } from '../../collector/store/converted.ts';
import type { Store } from '../../collector/store/port.ts';
import type { SeriesResponse } from '../contract/payloads.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
/** Samples read to draw a short span finer than by the minute; more would keep arriving ones waiting. */
const RAW_READ_LIMIT = 300_000;
/** Up to this span the samples in it are counted by the minute, beyond it by the hour. */
const COUNT_BY_MINUTE_MS = 24 * HOUR_MS;

export interface SeriesQuestion {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly fromMs: number;
  readonly toMs: number;
  /** Most entries of each column. */
  readonly points: number;
}

/**
 * A channel as columns of at most `points` entries: samples where they are few enough, else extremes, mean and count of
 * equal buckets, from samples, minutes or hours, whichever are coarse enough to be quick and fine enough to fill the
 * columns. Extremes are never lost. Buckets without samples are left out; summaries are those that touch the span.
 */
export async function seriesColumns(store: Store, asked: SeriesQuestion): Promise<SeriesResponse> {
  const { loggerId, channel, fromMs, toMs, points } = asked;
  const spanMs = toMs - fromMs;
  const base = { logger: loggerId, channel, unit: CANONICAL_UNIT[channel] };
  // Of hours erased by age only the minutes are left; beside them samples would look like a gap.
  const whole = (await store.erasedSpans(loggerId, channel, fromMs, toMs)).length === 0;
  if (whole && (spanMs / MINUTE_MS < points || (await countBelow(store, asked, points)))) {
    const raw = await rawColumns(store, asked);
    if (raw) return { ...base, resolution: 'raw', ...raw };
  }
  const level = spanMs / points >= HOUR_MS ? 'hour' : 'minute';
  const summary = await convertedSummaries(store, loggerId, channel, fromMs, toMs, level);
  return { ...base, resolution: level, ...rebucket(summary, fromMs, toMs, points) };
}

/** Joins buckets so that at most `points` remain, each a whole number of the summary's own. */
export function rebucket(summary: SummarySeries, fromMs: number, toMs: number, points: number): Columns {
  const { stepMs } = summary;
  const originMs = Math.floor(fromMs / stepMs) * stepMs;
  const wideMs = stepMs * Math.max(1, Math.ceil((toMs - originMs) / stepMs / points));
  const columns = createColumns(originMs, wideMs);
  for (let i = 0; i < summary.startMs.length; i++)
    columns.add(summary.startMs[i]!, summary.min[i]!, summary.max[i]!, summary.mean[i]!, summary.count[i]!);
  return columns.done();
}

type Columns = Pick<SeriesResponse, 'stepMs' | 'time' | 'min' | 'max' | 'mean' | 'count'>;

async function countBelow(store: Store, asked: SeriesQuestion, limit: number): Promise<boolean> {
  const level = asked.toMs - asked.fromMs <= COUNT_BY_MINUTE_MS ? 'minute' : 'hour';
  let count = 0;
  for (const { summary } of await store.summaries(asked.loggerId, asked.channel, asked.fromMs, asked.toMs, level))
    for (const inBucket of summary.count) count += inBucket;
  return count <= limit;
}

/** Samples as they are, or joined where there are more than `points`; undefined where they are too many to read. */
async function rawColumns(store: Store, asked: SeriesQuestion): Promise<Columns | undefined> {
  const { loggerId, channel, fromMs, toMs, points } = asked;
  const time: number[] = [];
  const value: number[] = [];
  const options = { includeTimeUncertain: true };
  for await (const part of readConverted(store, loggerId, channel, fromMs, toMs, options)) {
    for (let i = 0; i < part.timeMs.length; i++) {
      time.push(part.timeMs[i]!);
      value.push(part.value[i]!);
    }
    if (time.length > RAW_READ_LIMIT) return undefined;
  }
  if (time.length <= points)
    return { stepMs: null, time, min: value, max: value, mean: value, count: time.map(() => 1) };
  const wideMs = Math.ceil((toMs - fromMs) / points);
  const columns = createColumns(fromMs, wideMs);
  for (let i = 0; i < time.length; i++) columns.add(time[i]!, value[i]!, value[i]!, value[i]!, 1);
  return columns.done();
}

/** Collects entries, ascending in time, into buckets of `wideMs` from `originMs` on. */
function createColumns(originMs: number, wideMs: number) {
  const made: Columns & { stepMs: number } = { stepMs: wideMs, time: [], min: [], max: [], mean: [], count: [] };
  const sums: number[] = [];
  let current = Number.NEGATIVE_INFINITY;
  return {
    add(atMs: number, min: number, max: number, mean: number, count: number) {
      // Summaries that begin before the span belong to its first bucket.
      const start = originMs + Math.max(0, Math.floor((atMs - originMs) / wideMs)) * wideMs;
      if (start !== current) {
        current = start;
        made.time.push(start);
        made.min.push(min);
        made.max.push(max);
        made.count.push(count);
        sums.push(mean * count);
        return;
      }
      const last = made.time.length - 1;
      made.min[last] = Math.min(made.min[last]!, min);
      made.max[last] = Math.max(made.max[last]!, max);
      made.count[last]! += count;
      sums[last]! += mean * count;
    },
    done(): Columns {
      return { ...made, mean: sums.map((sum, index) => sum / made.count[index]!) };
    },
  };
}

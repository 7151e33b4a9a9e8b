import type { Channel } from '../model/channel.ts';
import { type Interpretation, interpretations } from '../model/interpretation.ts';
import type { Calibration, ChannelSetting } from '../model/logger.ts';
import { Problem } from '../model/problem.ts';
import { SAMPLE_FLAG, type SentRun, type Series, type SummarySeries } from '../model/series.ts';
import { applyMap, type EpochMs, IDENTITY, isRawUnit, type LinearMap } from '../model/units.ts';
import { firstIndexAtOrAfter } from './merge-runs.ts';
import type { SampleReader, Settings, SummaryLevel } from './port.ts';

/*
 * Samples in the channel's canonical unit. What is stored stays as sent; unit, end points and calibration are dated
 * settings applied here, each to the samples of its own stretch of time.
 */

type ConvertingStore = Pick<SampleReader, 'runs' | 'summaries'> & Pick<Settings, 'channelSettings' | 'calibrations'>;

export interface ConversionOptions {
  /** Samples whose time is uncertain are left out unless this is true. */
  readonly includeTimeUncertain?: boolean;
}

/** How values sent in `unit` are read over time, ascending; made once per unit. */
type StretchesOf = (unit: string) => readonly Interpretation[];

/**
 * The channel's samples with fromMs <= time < toMs in its canonical unit, ascending, an hour or so at a time.
 * Throws a Problem: `end_points_missing` where the transducer's line isn't known for a unit that needs one,
 * `unit_not_convertible` where the unit has no canonical meaning (a battery in percent).
 */
export async function* readConverted(
  store: ConvertingStore,
  loggerId: string,
  channel: Channel,
  fromMs: EpochMs,
  toMs: EpochMs,
  options: ConversionOptions = {},
): AsyncGenerator<Series> {
  const stretchesOf = await loadStretches(store, loggerId, channel);
  for await (const run of store.runs(loggerId, channel, fromMs, toMs)) {
    const kept = options.includeTimeUncertain ? run : withoutUncertain(run);
    if (kept.timeMs.length === 0) continue;
    yield { timeMs: kept.timeMs, value: convertValues(kept, loggerId, channel, stretchesOf), flags: kept.flags };
  }
}

/** All of `readConverted` in one Series: 16 bytes a sample, so a year at 1 Hz is half a gigabyte. Mind the span. */
export async function readColumns(
  store: ConvertingStore,
  loggerId: string,
  channel: Channel,
  fromMs: EpochMs,
  toMs: EpochMs,
  options: ConversionOptions = {},
): Promise<Series> {
  const parts: Series[] = [];
  for await (const part of readConverted(store, loggerId, channel, fromMs, toMs, options)) parts.push(part);
  const count = parts.reduce((sum, part) => sum + part.timeMs.length, 0);
  const timeMs = new Float64Array(count);
  const value = new Float64Array(count);
  const flags = parts.some((part) => part.flags) ? new Uint8Array(count) : undefined;
  let at = 0;
  for (const part of parts) {
    timeMs.set(part.timeMs, at);
    value.set(part.value, at);
    if (part.flags) flags?.set(part.flags, at);
    at += part.timeMs.length;
  }
  return { timeMs, value, flags };
}

/**
 * Min, max, mean and count per UTC-aligned minute or hour in the canonical unit, all units put together. A bucket in
 * which a setting or calibration begins is worked out from its samples, so each sample is read by its own settings.
 * Samples of uncertain time are included: the chart shows what was kept. Problems as for `readConverted`.
 */
export async function convertedSummaries(
  store: ConvertingStore,
  loggerId: string,
  channel: Channel,
  fromMs: EpochMs,
  toMs: EpochMs,
  level: SummaryLevel,
): Promise<SummarySeries> {
  const stretchesOf = await loadStretches(store, loggerId, channel);
  const stepMs = level === 'minute' ? 60_000 : 3_600_000;
  const asSent = await store.summaries(loggerId, channel, fromMs, toMs, level);
  const straddled = new Set<number>();
  for (const { unit } of asSent) {
    for (const { fromMs: begin } of stretchesOf(unit)) {
      if (Number.isFinite(begin) && begin % stepMs !== 0) straddled.add(Math.floor(begin / stepMs) * stepMs);
    }
  }
  const mixed: SummarySeries[] = [];
  for (const start of straddled) {
    if (!asSent.some(({ summary }) => summary.startMs.includes(start))) continue;
    const options = { includeTimeUncertain: true };
    const samples = await readColumns(store, loggerId, channel, start, start + stepMs, options);
    // Where only the minutes were kept, the whole bucket is read by what held at its start.
    if (samples.value.length === 0) straddled.delete(start);
    else mixed.push(oneBucket(start, stepMs, samples.value));
  }
  const parts = asSent.map(({ unit, summary }) => {
    const whole = straddled.size === 0 ? summary : filterBuckets(summary, (start) => !straddled.has(start));
    return convertBuckets(whole, stretchesOf(unit), unit, loggerId, channel);
  });
  parts.push(...mixed);
  return parts.length === 1 ? parts[0]! : joinBuckets(parts, stepMs);
}

/** Values of one run, sent in one unit, in the canonical unit; several settings may apply along it. */
function convertValues(run: SentRun, loggerId: string, channel: Channel, stretchesOf: StretchesOf): Float64Array {
  const stretches = stretchesOf(run.unit);
  const converted = new Float64Array(run.value.length);
  for (let s = 0; s < stretches.length; s++) {
    const from = firstIndexAtOrAfter(run.timeMs, stretches[s]!.fromMs);
    const to = firstIndexAtOrAfter(run.timeMs, stretches[s + 1]?.fromMs ?? Number.POSITIVE_INFINITY);
    if (from >= to) continue;
    const map = mapOf(stretches[s]!, run.unit, loggerId, channel, run.timeMs[from]!);
    if (map === IDENTITY) converted.set(run.value.subarray(from, to), from);
    else for (let i = from; i < to; i++) converted[i] = map.gain * run.value[i]! + map.offset;
  }
  return converted;
}

async function loadStretches(store: ConvertingStore, loggerId: string, channel: Channel): Promise<StretchesOf> {
  const settings: readonly ChannelSetting[] = await store.channelSettings(loggerId);
  const calibrations: readonly Calibration[] = await store.calibrations(loggerId);
  const made = new Map<string, readonly Interpretation[]>();
  return (unit) => {
    const known = made.get(unit) ?? interpretations(channel, unit, settings, calibrations);
    made.set(unit, known);
    return known;
  };
}

function mapOf(stretch: Interpretation, unit: string, loggerId: string, channel: Channel, atMs: EpochMs): LinearMap {
  if (stretch.map) return stretch.map;
  const where = `the ${channel} of logger ${loggerId} at ${new Date(atMs).toISOString()}`;
  if (channel === 'pressure' && isRawUnit(unit)) {
    throw new Problem(
      'end_points_missing',
      `The values of ${where} are in ${unit}, and the transducer's end points aren't set.`,
      "Set two end points on the logger's page, for example 0.5 V is 0 bar and 4.5 V is 10 bar; nothing stored changes.",
      { details: { loggerId, channel, unit } },
    );
  }
  throw new Problem(
    'unit_not_convertible',
    `The values of ${where} are in ${unit}, which can't be turned into the unit of the channel.`,
    'Read them as sent, or let the logger send another unit.',
    { details: { loggerId, channel, unit } },
  );
}

function withoutUncertain(run: SentRun): SentRun {
  const { flags } = run;
  if (!flags?.some((bits) => bits & SAMPLE_FLAG.timeUncertain)) return run;
  const certain = (_: unknown, i: number) => (flags[i]! & SAMPLE_FLAG.timeUncertain) === 0;
  const kept = flags.filter(certain);
  return {
    unit: run.unit,
    timeMs: run.timeMs.filter(certain),
    value: run.value.filter(certain),
    flags: kept.some((bits) => bits !== 0) ? kept : undefined,
  };
}

function convertBuckets(
  summary: SummarySeries,
  stretches: readonly Interpretation[],
  unit: string,
  loggerId: string,
  channel: Channel,
): SummarySeries {
  const length = summary.startMs.length;
  const [min, max, mean] = [new Float64Array(length), new Float64Array(length), new Float64Array(length)];
  let stretch = 0;
  for (let i = 0; i < length; i++) {
    const start = summary.startMs[i]!;
    while (stretch + 1 < stretches.length && stretches[stretch + 1]!.fromMs <= start) stretch++;
    const map = mapOf(stretches[stretch]!, unit, loggerId, channel, start);
    const atMin = applyMap(map, summary.min[i]!);
    const atMax = applyMap(map, summary.max[i]!);
    // A falling line (a transducer wired the other way round) swaps the extremes.
    min[i] = Math.min(atMin, atMax);
    max[i] = Math.max(atMin, atMax);
    mean[i] = applyMap(map, summary.mean[i]!);
  }
  return { ...summary, min, max, mean };
}

function filterBuckets(summary: SummarySeries, keep: (startMs: number) => boolean): SummarySeries {
  const kept = (_: unknown, i: number) => keep(summary.startMs[i]!);
  return {
    stepMs: summary.stepMs,
    startMs: summary.startMs.filter(kept),
    min: summary.min.filter(kept),
    max: summary.max.filter(kept),
    mean: summary.mean.filter(kept),
    count: summary.count.filter(kept),
  };
}

function oneBucket(startMs: number, stepMs: number, values: Float64Array): SummarySeries {
  return {
    stepMs,
    startMs: Float64Array.of(startMs),
    min: Float64Array.of(values.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY)),
    max: Float64Array.of(values.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY)),
    mean: Float64Array.of(values.reduce((a, b) => a + b, 0) / values.length),
    count: Uint32Array.of(values.length),
  };
}

/** Puts buckets of several units together, ascending; a bucket that several have becomes one. */
function joinBuckets(parts: readonly SummarySeries[], stepMs: number): SummarySeries {
  const buckets = new Map<number, { min: number; max: number; sum: number; count: number }>();
  for (const part of parts) {
    part.startMs.forEach((start, i) => {
      const bucket = buckets.get(start) ?? { min: part.min[i]!, max: part.max[i]!, sum: 0, count: 0 };
      bucket.min = Math.min(bucket.min, part.min[i]!);
      bucket.max = Math.max(bucket.max, part.max[i]!);
      bucket.sum += part.mean[i]! * part.count[i]!;
      bucket.count += part.count[i]!;
      buckets.set(start, bucket);
    });
  }
  const entries = [...buckets].sort(([a], [b]) => a - b);
  return {
    stepMs,
    startMs: Float64Array.from(entries, ([start]) => start),
    min: Float64Array.from(entries, ([, bucket]) => bucket.min),
    max: Float64Array.from(entries, ([, bucket]) => bucket.max),
    mean: Float64Array.from(entries, ([, bucket]) => bucket.sum / bucket.count),
    count: Uint32Array.from(entries, ([, bucket]) => bucket.count),
  };
}

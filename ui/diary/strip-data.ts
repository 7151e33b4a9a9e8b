import type { FindingsDocument } from '../../api/analysis/findings.ts';
import type { SeriesResponse } from '../../api/contract/payloads.ts';
import { gapMs } from '../chart/chart-data.ts';
import { NIGHT } from '../chart/chart-marks.ts';
import type { LocalDay, SiteTime } from '../site-time.ts';
import type { DayEntry } from './day-entries.ts';

/*
 * A day as a strip, placed by the hours of the wall clock so that 07:00 stands under 07:00 on every day. A day of 23
 * hours leaves its skipped hour empty; on a day of 25 the repeated hour is drawn twice, one over the other.
 */

/** A point by wall clock hours (0 to 24) and bar. */
export interface StripPoint {
  readonly hour: number;
  readonly bar: number;
}

export interface StripSpan {
  readonly fromHour: number;
  readonly toHour: number;
}

export interface DayStrip {
  /** Unbroken pieces of the strong line: standing pressure, or the mean reading where there is none. */
  readonly line: readonly (readonly StripPoint[])[];
  /** Unbroken pieces of the raw band. */
  readonly band: readonly (readonly { readonly hour: number; readonly min: number; readonly max: number }[])[];
  readonly low: readonly (StripSpan & { readonly certain: boolean })[];
  readonly draws: readonly StripSpan[];
  readonly starts: readonly StripSpan[];
  readonly nights: readonly StripSpan[];
}

const MINUTE_MS = 60_000;

/** Where intervals of a day lie on the wall clock; one across a change of the clocks becomes two. */
export function placeOnDay(
  intervals: readonly { readonly fromMs: number; readonly toMs: number }[],
  day: LocalDay,
  time: SiteTime,
): StripSpan[] {
  const midnight = Date.parse(`${day.date}T00:00:00Z`);
  return intervals.flatMap((interval) =>
    time.stretchesOf(day).flatMap((stretch) => {
      const fromMs = Math.max(interval.fromMs, stretch.startMs);
      const toMs = Math.min(interval.toMs, stretch.endMs);
      if (toMs < fromMs || (toMs === fromMs && interval.toMs > interval.fromMs)) return [];
      const hour = (atMs: number) => (atMs + stretch.offsetMinutes * MINUTE_MS - midnight) / 3_600_000;
      return [{ fromHour: hour(fromMs), toHour: hour(toMs) }];
    }),
  );
}

/** Everything a strip draws. `series` is the raw band's source and may still be missing. */
export function dayStrip(
  entry: DayEntry,
  findings: Pick<FindingsDocument, 'standing' | 'series'>,
  series: SeriesResponse | undefined,
  time: SiteTime,
): DayStrip {
  const { day } = entry;
  const midnight = Date.parse(`${day.date}T00:00:00Z`);
  const interval = (item: { start: string; end: string }) => ({
    fromMs: Date.parse(item.start),
    toMs: Date.parse(item.end),
  });
  const line: StripPoint[][] = [];
  const band: { hour: number; min: number; max: number }[][] = [];
  for (const stretch of time.stretchesOf(day)) {
    const hour = (atMs: number) => (atMs + stretch.offsetMinutes * MINUTE_MS - midnight) / 3_600_000;
    if (findings.standing) line.push(...standingPieces(findings.standing, stretch.startMs, stretch.endMs, hour));
    if (!series) continue;
    const inside = bucketsIn(series, stretch.startMs, stretch.endMs, gapMs(series.stepMs, findings.series.intervalS));
    band.push(...inside.map((piece) => piece.map((at) => ({ hour: hour(at.atMs), min: at.min, max: at.max }))));
    if (!findings.standing)
      line.push(...inside.map((piece) => piece.map((at) => ({ hour: hour(at.atMs), bar: at.mean }))));
  }
  return {
    line,
    band,
    low: entry.lowSupply.flatMap((period) =>
      placeOnDay([interval(period)], day, time).map((span) => ({ ...span, certain: period.certainty === 'certain' })),
    ),
    draws: placeOnDay(entry.draws.map(interval), day, time),
    starts: placeOnDay(
      entry.pumpStarts.map((start) => interval({ start: start.start, end: start.stop ?? start.start })),
      day,
      time,
    ),
    nights: [
      { fromHour: 0, toHour: NIGHT.toHour },
      { fromHour: NIGHT.fromHour, toHour: 24 },
    ],
  };
}

function standingPieces(
  standing: NonNullable<FindingsDocument['standing']>,
  fromMs: number,
  toMs: number,
  hour: (atMs: number) => number,
): StripPoint[][] {
  const stepMs = standing.stepS * 1000;
  const startMs = Date.parse(standing.start);
  const pieces: StripPoint[][] = [];
  let piece: StripPoint[] = [];
  const first = Math.max(0, Math.ceil((fromMs - startMs) / stepMs));
  const last = Math.min(standing.bar.length, Math.ceil((toMs - startMs) / stepMs));
  for (let index = first; index < last; index++) {
    const value = standing.bar[index] ?? null;
    if (value !== null) piece.push({ hour: hour(startMs + (index + 0.5) * stepMs), bar: value });
    else if (piece.length > 0) {
      pieces.push(piece);
      piece = [];
    }
  }
  if (piece.length > 0) pieces.push(piece);
  return pieces;
}

function bucketsIn(series: SeriesResponse, fromMs: number, toMs: number, gap: number) {
  const pieces: { atMs: number; min: number; max: number; mean: number }[][] = [];
  let lastMs = Number.NEGATIVE_INFINITY;
  for (let index = firstAtOrAfter(series.time, fromMs); index < series.time.length; index++) {
    const startMs = series.time[index]!;
    if (startMs >= toMs) break;
    const bucket = {
      atMs: startMs + (series.stepMs ?? 0) / 2,
      min: series.min[index]!,
      max: series.max[index]!,
      mean: series.mean[index]!,
    };
    if (startMs - lastMs >= gap) pieces.push([bucket]);
    else pieces.at(-1)!.push(bucket);
    lastMs = startMs;
  }
  return pieces;
}

function firstAtOrAfter(ascending: readonly number[], wanted: number): number {
  let low = 0;
  let high = ascending.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle]! < wanted) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** The one scale that all strips of a site share, in bar: from nought to a round number above everything seen. */
export function commonScaleBar(findings: FindingsDocument, series: SeriesResponse | undefined): number {
  let highest = findings.thresholds.lowSupplyBar * 1.5;
  for (const value of findings.standing?.bar ?? []) if (value !== null && value > highest) highest = value;
  // A single spike mustn't flatten every strip: the raw band is judged by its means.
  for (const value of series?.mean ?? []) if (value > highest) highest = value;
  return Math.ceil(highest * 1.08 * 2) / 2;
}

import type { FindingsDocument } from '../../api/analysis/findings.ts';
import type { SeriesResponse } from '../../api/contract/payloads.ts';
import type { Span } from '../view-state.ts';

/*
 * From the server's columns to what a chart draws, without a browser. All lines share one strictly ascending time
 * column; in each, `null` is a gap (the line breaks) and `undefined` only says that another line has a point there.
 */

type Cell = number | null | undefined;

export interface ChartColumns {
  readonly timeMs: readonly number[];
  /** Lowest and highest reading: the pale band. */
  readonly min: readonly Cell[];
  readonly max: readonly Cell[];
  /** The strong line: standing pressure, or the mean reading where standing pressure doesn't apply. */
  readonly line: readonly Cell[];
  /** The line less and plus its expanded uncertainty. */
  readonly lower: readonly Cell[];
  readonly upper: readonly Cell[];
}

export interface Column {
  readonly timeMs: readonly number[];
  readonly value: readonly (number | null)[];
}

/** Silence of at least this is a gap, as in the findings: a minute, or three intervals where that is longer. */
export const SHORTEST_GAP_MS = 60_000;

/** What separates two neighbouring buckets so far that nothing may be drawn between them. */
export function gapMs(stepMs: number | null, intervalS: number | null): number {
  return Math.max(SHORTEST_GAP_MS, 3 * (intervalS ?? 1) * 1000, 1.5 * (stepMs ?? 0));
}

/**
 * A line's points with a `null` between two that lie `gap` or more apart. Times must ascend; equal times keep the
 * first.
 */
export function withGaps(timeMs: readonly number[], value: readonly number[], gap: number): Column {
  const outTime: number[] = [];
  const outValue: (number | null)[] = [];
  let lastMs = Number.NEGATIVE_INFINITY;
  for (let index = 0; index < timeMs.length; index++) {
    const atMs = timeMs[index]!;
    if (atMs <= lastMs) continue;
    if (atMs - lastMs >= gap && Number.isFinite(lastMs)) {
      outTime.push(lastMs + Math.min(gap, atMs - lastMs) / 2);
      outValue.push(null);
    }
    outTime.push(atMs);
    outValue.push(value[index]!);
    lastMs = atMs;
  }
  return { timeMs: outTime, value: outValue };
}

/**
 * At most about `2 · buckets` points of a column: of each bucket the lowest and the highest in their order, so that no
 * dip is lost at any zoom. A bucket that holds only nulls stays one null.
 */
export function keepExtremes(column: Column, buckets: number): { column: Column; index: number[] } {
  const length = column.timeMs.length;
  const kept: number[] = [];
  if (length <= 2 * buckets) for (let index = 0; index < length; index++) kept.push(index);
  else
    for (let bucket = 0; bucket < buckets; bucket++) {
      const start = Math.floor((bucket * length) / buckets);
      const end = Math.floor(((bucket + 1) * length) / buckets);
      kept.push(...extremesOf(column.value, start, end));
    }
  return {
    column: { timeMs: kept.map((index) => column.timeMs[index]!), value: kept.map((index) => column.value[index]!) },
    index: kept,
  };
}

function extremesOf(value: readonly (number | null)[], start: number, end: number): number[] {
  let low = -1;
  let high = -1;
  let gap = -1;
  for (let index = start; index < end; index++) {
    const at = value[index] ?? null;
    if (at === null) gap = gap < 0 ? index : gap;
    else {
      if (low < 0 || at < value[low]!) low = index;
      if (high < 0 || at > value[high]!) high = index;
    }
  }
  return [...new Set([low, high, gap].filter((index) => index >= 0))].sort((a, b) => a - b);
}

/** The stretch of standing pressure that lies in a span, with its expanded uncertainty (k = 2, sensor included). */
export function standingIn(
  findings: Pick<FindingsDocument, 'standing' | 'sensorUBar'>,
  span: Span,
): { column: Column; uncertaintyBar: (number | null)[] } {
  const { standing, sensorUBar } = findings;
  if (!standing) return { column: { timeMs: [], value: [] }, uncertaintyBar: [] };
  const stepMs = standing.stepS * 1000;
  const startMs = Date.parse(standing.start);
  // One point further on both sides, so that the line runs out of the picture instead of ending at its edge.
  const first = Math.max(0, Math.floor((span.fromMs - startMs) / stepMs) - 1);
  const last = Math.min(standing.bar.length, Math.ceil((span.toMs - startMs) / stepMs) + 2);
  const timeMs: number[] = [];
  const value: (number | null)[] = [];
  const uncertaintyBar: (number | null)[] = [];
  for (let index = first; index < last; index++) {
    const at = standing.bar[index] ?? null;
    // A grid point stands for the step that it starts: drawn at the middle.
    timeMs.push(startMs + (index + 0.5) * stepMs);
    value.push(at);
    const sd = standing.sdBar[index] ?? 0;
    uncertaintyBar.push(at === null ? null : Math.hypot(2 * sd, sensorUBar));
  }
  return { column: { timeMs, value }, uncertaintyBar };
}

/** Joins readings and standing pressure on one time column. Without standing pressure the mean is the strong line. */
export function pressureColumns(
  series: SeriesResponse,
  findings: Pick<FindingsDocument, 'standing' | 'sensorUBar' | 'series'> | undefined,
  span: Span,
  pixels: number,
): ChartColumns {
  const gap = gapMs(series.stepMs, findings?.series.intervalS ?? null);
  const centre = centres(series);
  const min = withGaps(centre, series.min, gap);
  const max = withGaps(centre, series.max, gap);
  const mean = withGaps(centre, series.mean, gap);
  const bands = min.timeMs.map((atMs, index) => ({ atMs, min: min.value[index]!, max: max.value[index]! }));
  if (!findings?.standing)
    return {
      timeMs: min.timeMs,
      min: min.value,
      max: max.value,
      line: mean.value,
      lower: min.value.map(() => undefined),
      upper: min.value.map(() => undefined),
    };
  const standing = standingIn(findings, span);
  const reduced = keepExtremes(standing.column, Math.max(50, Math.round(pixels)));
  const uncertainty = reduced.index.map((index) => standing.uncertaintyBar[index] ?? null);
  return merge(bands, reduced.column, uncertainty);
}

/** Min, max and mean of any other channel, with gaps. */
export function plainColumns(series: SeriesResponse, intervalS: number | null): ChartColumns {
  const gap = gapMs(series.stepMs, intervalS);
  const centre = centres(series);
  const min = withGaps(centre, series.min, gap);
  return {
    timeMs: min.timeMs,
    min: min.value,
    max: withGaps(centre, series.max, gap).value,
    line: withGaps(centre, series.mean, gap).value,
    lower: min.value.map(() => undefined),
    upper: min.value.map(() => undefined),
  };
}

function centres(series: SeriesResponse): readonly number[] {
  const half = (series.stepMs ?? 0) / 2;
  return half === 0 ? series.time : series.time.map((atMs) => atMs + half);
}

function merge(
  bands: readonly { atMs: number; min: Cell; max: Cell }[],
  line: Column,
  uncertainty: readonly (number | null)[],
): ChartColumns {
  const out = {
    timeMs: [] as number[],
    min: [] as Cell[],
    max: [] as Cell[],
    line: [] as Cell[],
    lower: [] as Cell[],
    upper: [] as Cell[],
  };
  let band = 0;
  let point = 0;
  while (band < bands.length || point < line.timeMs.length) {
    const bandMs = bands[band]?.atMs ?? Number.POSITIVE_INFINITY;
    const pointMs = line.timeMs[point] ?? Number.POSITIVE_INFINITY;
    const atMs = Math.min(bandMs, pointMs);
    out.timeMs.push(atMs);
    out.min.push(bandMs === atMs ? bands[band]!.min : undefined);
    out.max.push(bandMs === atMs ? bands[band]!.max : undefined);
    const value = pointMs === atMs ? line.value[point]! : undefined;
    const half = pointMs === atMs ? (uncertainty[point] ?? null) : undefined;
    out.line.push(value);
    out.lower.push(value == null || half == null ? value : value - half);
    out.upper.push(value == null || half == null ? value : value + half);
    if (bandMs === atMs) band += 1;
    if (pointMs === atMs) point += 1;
  }
  return out;
}

/** Round numbers for a pressure axis: from nought (or below, for suction) to a little above the highest. */
export function pressureRange(
  columns: Pick<ChartColumns, 'min' | 'max' | 'line'>,
  atLeastBar: number,
): [number, number] {
  let low = 0;
  let high = atLeastBar;
  for (const column of [columns.min, columns.max, columns.line])
    for (const value of column) {
      if (value == null) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  const step = high - low > 6 ? 2 : high - low > 2.5 ? 1 : 0.5;
  return [low < -0.02 ? Math.floor(low / step) * step : 0, Math.ceil((high * 1.02) / step) * step];
}

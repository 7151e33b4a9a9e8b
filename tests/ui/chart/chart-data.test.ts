import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { SeriesResponse } from '../../../api/contract/payloads.ts';
import {
  gapMs,
  keepExtremes,
  plainColumns,
  pressureColumns,
  pressureRange,
  withGaps,
} from '../../../ui/chart/chart-data.ts';
import { withLiveSamples } from '../../../ui/chart/live-window.ts';

const START = Date.UTC(2026, 4, 4);

function series(time: number[], value: number[], stepMs: number | null = null): SeriesResponse {
  return {
    logger: 'front-hall',
    channel: 'pressure',
    unit: 'bar',
    resolution: stepMs === null ? 'raw' : 'minute',
    stepMs,
    time,
    min: value.map((at) => at - 0.1),
    max: value.map((at) => at + 0.1),
    mean: value,
    count: value.map(() => 1),
  };
}

const ascending = fc.array(fc.integer({ min: 1, max: 200_000 }), { maxLength: 200 }).map((steps) => {
  let atMs = START;
  return steps.map((step) => {
    atMs += step;
    return atMs;
  });
});

describe('gaps', () => {
  it('start at a minute or three intervals, whichever is longer', () => {
    expect(gapMs(null, 1)).toBe(60_000);
    expect(gapMs(null, 60)).toBe(180_000);
    expect(gapMs(3_600_000, 1)).toBe(5_400_000);
  });

  it('break a line with null exactly where samples lie that far apart', () => {
    const times = [0, 1000, 61_000, 62_000].map((ms) => START + ms);
    const column = withGaps(times, [1, 2, 3, 4], 60_000);
    expect(column.value).toEqual([1, 2, null, 3, 4]);
  });

  it('keep times strictly ascending whatever comes', () => {
    fc.assert(
      fc.property(ascending, fc.integer({ min: 1000, max: 100_000 }), (times, gap) => {
        const column = withGaps(
          times,
          times.map(() => 1),
          gap,
        );
        for (let index = 1; index < column.timeMs.length; index++)
          expect(column.timeMs[index]!).toBeGreaterThan(column.timeMs[index - 1]!);
        expect(column.value.filter((value) => value !== null)).toHaveLength(times.length);
      }),
    );
  });
});

describe('reducing a line', () => {
  it('never loses the lowest or the highest of any bucket', () => {
    const values = fc.array(fc.option(fc.double({ min: 0, max: 10, noNaN: true }), { nil: null }), {
      minLength: 1,
      maxLength: 2000,
    });
    fc.assert(
      fc.property(values, fc.integer({ min: 1, max: 50 }), (value, buckets) => {
        const timeMs = value.map((_, index) => START + index * 1000);
        const { column } = keepExtremes({ timeMs, value }, buckets);
        const known = (list: readonly (number | null)[]) => list.filter((at): at is number => at !== null);
        expect(Math.min(...known(column.value))).toBe(Math.min(...known(value)));
        expect(Math.max(...known(column.value))).toBe(Math.max(...known(value)));
        expect(column.value.length).toBeLessThanOrEqual(Math.max(2, 3) * buckets);
        for (let index = 1; index < column.timeMs.length; index++)
          expect(column.timeMs[index]!).toBeGreaterThan(column.timeMs[index - 1]!);
      }),
    );
  });

  it('keeps a dip of one sample in a year of hours', () => {
    const value = Array.from({ length: 8760 }, (_, index) => (index === 4321 ? 0.2 : 2.4));
    const timeMs = value.map((_, index) => START + index * 3_600_000);
    expect(keepExtremes({ timeMs, value }, 300).column.value).toContain(0.2);
  });
});

describe('columns of a pressure chart', () => {
  const findings = {
    sensorUBar: 0.12,
    series: { start: '', end: '', samples: 0, intervalS: 1, timeZone: 'UTC', position: 'incoming' as const },
    standing: { start: new Date(START).toISOString(), stepS: 60, bar: [2.4, null, 2.2], sdBar: [0.025, null, 0] },
  };
  const span = { fromMs: START, toMs: START + 180_000 };

  it('share one strictly ascending time column, gaps as null and absent points as undefined', () => {
    fc.assert(
      fc.property(ascending, (times) => {
        const columns = pressureColumns(
          series(
            times,
            times.map(() => 2),
          ),
          findings,
          span,
          100,
        );
        for (let index = 1; index < columns.timeMs.length; index++)
          expect(columns.timeMs[index]!).toBeGreaterThan(columns.timeMs[index - 1]!);
        for (const column of [columns.min, columns.max, columns.line, columns.lower, columns.upper])
          expect(column).toHaveLength(columns.timeMs.length);
        expect(columns.min.filter((value) => typeof value === 'number')).toHaveLength(times.length);
      }),
    );
  });

  it('draw standing pressure in the middle of its grid step, unknown as a gap', () => {
    const columns = pressureColumns(series([], []), findings, span, 100);
    expect(columns.timeMs.map((atMs) => atMs - START)).toEqual([30_000, 90_000, 150_000]);
    expect(columns.line).toEqual([2.4, null, 2.2]);
  });

  it('widen it by twice the random part and the sensor’s own, in quadrature', () => {
    // JCGM 100:2008 5.1.2 (root sum of squares) and 6.2.1 (k = 2): √((2 · 0.025)² + 0.12²) = 0.13.
    const columns = pressureColumns(series([], []), findings, span, 100);
    expect(columns.upper[0]).toBeCloseTo(2.53, 10);
    expect(columns.lower[0]).toBeCloseTo(2.27, 10);
    expect(columns.upper[1]).toBeNull();
  });

  it('fall back to the mean reading where there is no standing pressure', () => {
    const columns = pressureColumns(series([START, START + 60_000], [2, 3], 60_000), undefined, span, 100);
    expect(columns.line).toEqual([2, 3]);
    expect(columns.timeMs[0]).toBe(START + 30_000);
  });

  it('scale from nought to a round number, below nought only for suction', () => {
    const read = (values: number[]) =>
      plainColumns(
        series(
          values.map((_, index) => START + index),
          values,
        ),
        1,
      );
    expect(pressureRange(read([2.3]), 0.9)).toEqual([0, 2.5]);
    expect(pressureRange(read([2.3]), 3)[0]).toBe(0);
    expect(pressureRange(read([-0.3]), 0.9)[0]).toBe(-0.5);
  });
});

describe('live samples', () => {
  it('are appended to single samples and folded into buckets', () => {
    const raw = withLiveSamples(series([START], [2]), [START + 1000, START + 2000], [2.5, 2.6]);
    expect(raw.mean).toEqual([2, 2.5, 2.6]);
    const minutes = withLiveSamples(series([START], [2], 60_000), [START + 30_000, START + 60_000], [3, 1]);
    expect(minutes.time).toEqual([START, START + 60_000]);
    expect(minutes.max[0]).toBe(3);
    expect(minutes.mean[0]).toBe(2.5);
  });

  it('never grow beyond the window, and late ones leave the order as it is', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 1e6 }), { maxLength: 300 }), (offsets) => {
        const next = withLiveSamples(
          series([START], [2]),
          offsets.map((ms) => START + ms),
          offsets.map(() => 2),
          50,
        );
        expect(next.time.length).toBeLessThanOrEqual(50);
        for (let index = 1; index < next.time.length; index++)
          expect(next.time[index]!).toBeGreaterThan(next.time[index - 1]!);
      }),
    );
  });

  it('leave the series that was given as it was', () => {
    const given = series([START], [2]);
    withLiveSamples(given, [START + 1000], [3]);
    expect(given.time).toEqual([START]);
  });
});

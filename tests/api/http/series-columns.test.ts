import fc from 'fast-check';
import { expect, it } from 'vitest';
import { rebucket } from '../../../api/http/series-columns.ts';

const STEP = 60_000;

it('joined buckets lose no extreme, no sample and no mean, and are never more than asked', () => {
  const buckets = fc.uniqueArray(fc.integer({ min: 0, max: 3000 }), { maxLength: 200 });
  fc.assert(
    fc.property(buckets, fc.integer({ min: 1, max: 100 }), (minutes, points) => {
      const starts = minutes.sort((a, b) => a - b).map((minute) => minute * STEP);
      const summary = {
        stepMs: STEP,
        startMs: Float64Array.from(starts),
        min: Float64Array.from(starts, (start) => 2 - ((start / STEP) % 7)),
        max: Float64Array.from(starts, (start) => 3 + ((start / STEP) % 5)),
        mean: Float64Array.from(starts, (start) => 2.5 + ((start / STEP) % 2)),
        count: Uint32Array.from(starts, (start) => 1 + ((start / STEP) % 60)),
      };
      const fromMs = (starts[0] ?? 0) + 1;
      const toMs = (starts.at(-1) ?? 0) + STEP;
      const columns = rebucket(summary, fromMs, toMs, points);
      expect(columns.time.length).toBeLessThanOrEqual(points);
      expect(columns.time).toEqual([...new Set(columns.time)].sort((a, b) => a - b));
      const sum = (list: Iterable<number>) => [...list].reduce((total, value) => total + value, 0);
      expect(sum(columns.count)).toBe(sum(summary.count));
      expect(Math.min(...columns.min)).toBe(Math.min(...summary.min));
      expect(Math.max(...columns.max)).toBe(Math.max(...summary.max));
      const weighted = (mean: ArrayLike<number>, count: ArrayLike<number>) =>
        sum(Array.from(mean, (value, i) => value * count[i]!));
      expect(weighted(columns.mean, columns.count)).toBeCloseTo(weighted(summary.mean, summary.count), 6);
    }),
  );
});

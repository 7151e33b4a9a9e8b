import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Edges } from '../../../../api/analysis/supply/edge-levels.ts';
import { lastingSteps } from '../../../../api/analysis/supply/lasting-steps.ts';

const MINUTE_MS = 60_000;
const LEVEL_MS = 360 * MINUTE_MS;

/** The level beside a row, reading by reading, the slow way: one a minute, the median of at least sixty. */
function slowLevel(timeMs: Float64Array, bar: Float64Array, row: number, side: -1 | 1): number | undefined {
  const readings: number[] = [];
  let next = 0;
  for (let i = row; i >= 0 && i < timeMs.length; i += side) {
    const away = side * (timeMs[i]! - timeMs[row]!);
    if (away > LEVEL_MS) break;
    if (away < next) continue;
    readings.push(bar[i]!);
    next = away + MINUTE_MS;
  }
  readings.sort((a, b) => a - b);
  const middle = (readings.length - 1) / 2;
  return readings.length < 60 ? undefined : (readings[Math.floor(middle)]! + readings[Math.ceil(middle)]!) / 2;
}

describe('steps that stay', () => {
  it('are told on a grid, with jitter and over gaps as by reading every row', () => {
    const logs = fc.record({
      strideMs: fc.constantFrom(1_000, 7_000, 10_000),
      jitterMs: fc.constantFrom(0, 400),
      gapEvery: fc.constantFrom(0, 97, 1_200),
      seed: fc.integer({ min: 1, max: 1e6 }),
    });
    fc.assert(
      fc.property(logs, ({ strideMs, jitterMs, gapEvery, seed }) => {
        let state = seed;
        const chance = () => {
          state = (state * 48_271) % 2_147_483_647;
          return state / 2_147_483_647;
        };
        const rows = Math.ceil((16 * 60 * MINUTE_MS) / strideMs);
        const timeMs = new Float64Array(rows);
        const bar = new Float64Array(rows);
        let at = 0;
        for (let i = 0; i < rows; i++) {
          at += strideMs + (gapEvery > 0 && i % gapEvery === 0 ? 200_000 * chance() : 0);
          timeMs[i] = at + Math.floor(jitterMs * chance());
          bar[i] = (i < rows / 2 ? 3 : 2.6) + 0.2 * chance();
        }
        const row = Int32Array.of(Math.floor(rows / 3), Math.floor(rows / 2), Math.floor(0.7 * rows), 20);
        const sizes = [-0.4, -0.4, 0.3, -0.5];
        const edges = {
          count: row.length,
          row,
          beforeBar: Float64Array.from(sizes, () => 3),
          afterBar: Float64Array.from(sizes, (size) => 3 + size),
        } as unknown as Edges;
        const slow = sizes.map((size, k) => {
          const before = slowLevel(timeMs, bar, row[k]! - 1, -1);
          const after = slowLevel(timeMs, bar, row[k]!, 1);
          if (before === undefined || after === undefined) return 0;
          return Math.abs(after - before - size) <= Math.max(0.4 * Math.abs(size), 0.03) ? 1 : 0;
        });
        expect([...lastingSteps(timeMs, bar, edges, strideMs / 1000)]).toEqual(slow);
        expect(slow[1]).toBe(1);
      }),
      { numRuns: 40 },
    );
  });
});

import { describe, expect, it } from 'vitest';
import { inletColumnOf } from '../../../../api/analysis/pump/inlet-column.ts';
import { random } from './seeded-random.ts';

/* A main of 0.8 bar with a little noise, an open circuit for a minute and single readings far outside. */
const ROWS = 3_600;
const UNKNOWN = { rangeBar: undefined, topBar: 10 };
const NO_RUNS: { startMs: number; endMs: number }[] = [];

function column() {
  const next = random(9);
  const timeMs = Float64Array.from({ length: ROWS }, (_, k) => 1000 * k);
  const bar = timeMs.map(() => 0.8 + 0.01 * (next() - 0.5));
  return { timeMs, bar };
}

describe('the column of a transducer before the pump', () => {
  it('loses what no pressure can be, and keeps the rest', () => {
    const { timeMs, bar } = column();
    bar.fill(16, 600, 660);
    bar[1_200] = 5;
    bar[1_800] = -2;
    const { rows, faults } = inletColumnOf(timeMs, bar, 1, UNKNOWN, NO_RUNS)!;
    expect(rows.timeMs).toHaveLength(ROWS - 62);
    expect(Math.max(...rows.bar)).toBeLessThan(1);
    expect(Math.min(...rows.bar)).toBeGreaterThan(0.7);
    expect(bar[1_200]).toBe(5);
    expect(faults.map(({ kind, column, count }) => [kind, column, count ?? 1])).toEqual([
      ['out_of_range', 'inlet_bar', 60],
      ['out_of_range', 'inlet_bar', 1],
      ['spike', 'inlet_bar', 1],
    ]);
  });

  it('keeps a dry main and a pull of a few seconds', () => {
    const { timeMs, bar } = column();
    bar.fill(0, 600, 660);
    bar.fill(0.1, 1_200, 1_204);
    expect(inletColumnOf(timeMs, bar, 1, UNKNOWN, NO_RUNS)?.rows.timeMs).toHaveLength(ROWS);
  });

  it('keeps suction beside a running pump down to a vacuum, and none below the range while no pump runs', () => {
    const { timeMs, bar } = column();
    bar.fill(-0.6, 600, 640);
    bar.fill(-0.6, 1_200, 1_240);
    const runs = [{ startMs: 600_000, endMs: 640_000 }];
    const known = inletColumnOf(timeMs, bar, 1, { rangeBar: [0, 10], topBar: 10 }, runs)!;
    expect(known.rows.timeMs).toHaveLength(ROWS - 40);
    expect(known.faults).toMatchObject([{ kind: 'out_of_range', startMs: 1_200_000, endMs: 1_240_000, count: 40 }]);
    // Without a range any pressure may be one; below a vacuum (1.01325 bar under the air, ISO 2533) there is none.
    expect(inletColumnOf(timeMs, bar, 1, UNKNOWN, runs)!.rows.timeMs).toHaveLength(ROWS);
    bar.fill(-1.3, 600, 640);
    expect(inletColumnOf(timeMs, bar, 1, UNKNOWN, runs)!.rows.timeMs).toHaveLength(ROWS - 40);
  });

  it('is none where nothing was read', () => {
    const { timeMs } = column();
    expect(inletColumnOf(timeMs, new Float64Array(ROWS).fill(Number.NaN), 1, UNKNOWN, NO_RUNS)).toBeUndefined();
    expect(inletColumnOf(timeMs, undefined, 1, UNKNOWN, NO_RUNS)).toBeUndefined();
  });
});

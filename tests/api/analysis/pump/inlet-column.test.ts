import { describe, expect, it } from 'vitest';
import { inletRowsOf } from '../../../../api/analysis/pump/inlet-column.ts';
import { random } from './seeded-random.ts';

/* A main of 0.8 bar with a little noise, an open circuit for a minute and single readings far outside. */
const ROWS = 3_600;
const RANGE_BAR = [0, 10] as const;

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
    const rows = inletRowsOf(timeMs, bar, 1, RANGE_BAR);
    expect(rows?.timeMs).toHaveLength(ROWS - 62);
    expect(Math.max(...rows!.bar)).toBeLessThan(1);
    expect(Math.min(...rows!.bar)).toBeGreaterThan(0.7);
    expect(bar[1_200]).toBe(5);
  });

  it('keeps a dry main and a pull of a few seconds', () => {
    const { timeMs, bar } = column();
    bar.fill(0, 600, 660);
    bar.fill(0.1, 1_200, 1_204);
    expect(inletRowsOf(timeMs, bar, 1, RANGE_BAR)?.timeMs).toHaveLength(ROWS);
  });

  it('is none where nothing was read', () => {
    const { timeMs } = column();
    expect(inletRowsOf(timeMs, new Float64Array(ROWS).fill(Number.NaN), 1, RANGE_BAR)).toBeUndefined();
    expect(inletRowsOf(timeMs, undefined, 1, RANGE_BAR)).toBeUndefined();
  });
});

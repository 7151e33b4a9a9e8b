import { describe, expect, it } from 'vitest';
import { drawnIndices } from '../../../../api/analysis/statistics/bootstrap.ts';
import { unseenShareOf } from '../../../../api/analysis/supply/balances.ts';
import { bridgeShortStretches } from '../../../../api/analysis/supply/bridge-cells.ts';
import { CELL, type StandingCells } from '../../../../api/analysis/supply/standing-cells.ts';
import { halfSquareAt, streetVariogram, USUAL_STREET } from '../../../../api/analysis/supply/street-variogram.ts';

const uniform = drawnIndices(4711);
const normal = () => Array.from({ length: 12 }, () => uniform(1_000_000) / 1e6).reduce((a, b) => a + b, -6);

/** A street that comes back to its level: an Ornstein–Uhlenbeck series in cells of 10 s, all of them seen. */
function streetCells(count: number, sdBar: number, relaxS: number): StandingCells {
  const keep = Math.exp(-10 / relaxS);
  let off = 0;
  const bar = Float64Array.from({ length: count }, () => {
    off = keep * off + sdBar * Math.sqrt(1 - keep * keep) * normal();
    return 3 + off;
  });
  return {
    startMs: 0,
    stepMs: 10_000,
    count,
    bar,
    sdBar: new Float32Array(count).fill(1e-4),
    doubtSdBar: new Float32Array(count),
    state: new Uint8Array(count).fill(CELL.seen),
  };
}

describe('the street’s variogram', () => {
  it('is that of an Ornstein–Uhlenbeck street: s²·(1 − exp(−t/τ))', () => {
    const street = streetVariogram(streetCells(60_000, 0.02, 200));
    for (const t of [10, 40, 160, 640])
      expect(halfSquareAt(street, t * 1000) / (4e-4 * (1 - Math.exp(-t / 200)))).toBeCloseTo(1, 0);
  });

  it('grows as before beyond what was measured, and is the usual one where nothing was', () => {
    const street = { lagMs: [10_000], halfSquareBar2: [1e-6] };
    expect(halfSquareAt(street, 40_000)).toBeCloseTo(4e-6, 12);
    expect(halfSquareAt(USUAL_STREET, 100_000)).toBeCloseTo(5e-5, 12);
    expect(streetVariogram(streetCells(20, 0.02, 200)).lagMs).toEqual([]);
  });
});

describe('bridges through short draws', () => {
  it('state a deviation that is the error’s, and are no worse than a straight line', () => {
    const cells = streetCells(60_000, 0.02, 200);
    const truth = cells.bar.slice();
    const street = streetVariogram(cells);
    const hidden: number[] = [];
    for (let from = 100; from < cells.count - 100; from += 90) {
      for (let k = from; k < from + 18; k++) {
        cells.state[k] = CELL.hidden;
        cells.bar[k] = Number.NaN;
        hidden.push(k);
      }
    }
    bridgeShortStretches(cells, street);
    let squares = 0;
    let straight = 0;
    let said = 0;
    for (const k of hidden) {
      const from = k - ((k - 100) % 90) - 1;
      const line = truth[from]! + ((k - from) / 19) * (truth[from + 19]! - truth[from]!);
      squares += (cells.bar[k]! - truth[k]!) ** 2;
      straight += (line - truth[k]!) ** 2;
      said += cells.sdBar[k]! ** 2;
    }
    expect(squares).toBeLessThan(1.01 * straight);
    expect(Math.sqrt(said / squares)).toBeGreaterThan(0.8);
    expect(Math.sqrt(said / squares)).toBeLessThan(1.25);
  });

  it('are a straight line where the street’s changes add up', () => {
    const cells = streetCells(10, 0, 200);
    cells.bar.set([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
    cells.state.fill(CELL.hidden, 3, 7);
    bridgeShortStretches(cells, { lagMs: [10_000], halfSquareBar2: [1e-6] });
    expect([...cells.bar.subarray(3, 7)].map((bar) => Math.round(1e9 * bar) / 1e9)).toEqual([4, 5, 6, 7]);
  });
});

describe('what balancing books may be off by', () => {
  const balances = (share: number) =>
    Array.from({ length: 200 }, (_, i) => ({ residualShare: (i % 2 ? 1 : -1) * share }));
  it('is less in a house whose draws balance well, and never more than usual', () => {
    expect(unseenShareOf([])).toBeCloseTo(0.07, 12);
    expect(unseenShareOf(balances(0.2))).toBeCloseTo(0.07, 12);
    expect(unseenShareOf(balances(0.005))).toBeLessThan(0.035);
    expect(unseenShareOf(balances(0.005))).toBeGreaterThan(0.01);
    expect(unseenShareOf(balances(0.005).slice(0, 2))).toBeGreaterThan(unseenShareOf(balances(0.005)));
  });
});

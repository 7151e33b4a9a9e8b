import { describe, expect, it } from 'vitest';
import { outletRuns } from '../../../../api/analysis/pump/outlet-runs.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { random } from './seeded-random.ts';

const CUT_IN_BAR = 2.05;
const CUT_OUT_BAR = 3.55;
const START_MS = Date.UTC(2026, 4, 4);

/** A vessel that has sunk to a little above cut-in and stays there for hours until a tap opens, three times over. */
function resting(intervalS: number, noiseBar: number, seed: number): { bar: Float64Array; startRows: number[] } {
  const next = random(seed);
  const noise = (): number => noiseBar * Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
  const bar: number[] = [];
  const startRows: number[] = [];
  for (let cycle = 0; cycle < 3; cycle++) {
    for (let k = 0; k < 30; k++) bar.push(CUT_OUT_BAR + noise());
    for (let k = 1; k <= 10; k++) bar.push(CUT_OUT_BAR - k * 0.142 + noise());
    const restRows = Math.round(5_400 / intervalS);
    for (let k = 0; k < restRows; k++) bar.push(2.08 + (0.05 * (restRows - k)) / restRows + noise());
    startRows.push(bar.length - 1);
    // Filled in 20 s.
    for (let s = intervalS; s < 20; s += intervalS) bar.push(2.08 + (1.47 * s) / 20 + noise());
  }
  for (let k = 0; k < 30; k++) bar.push(CUT_OUT_BAR + noise());
  return { bar: Float64Array.from(bar), startRows };
}

// A start is the last low reading before the rise (the project's own definition).
describe('a start after a long flat rest', () => {
  const cases = [1, 10, 60].flatMap((intervalS) => [0.004, 0.015, 0.03].map((noiseBar) => [intervalS, noiseBar]));
  it.each(cases)('lies at its end and not at its lowest reading, every %i s, noise %f bar', (intervalS, noiseBar) => {
    for (let seed = 1; seed <= 12; seed++) {
      const { bar, startRows } = resting(intervalS!, noiseBar!, seed);
      const timeMs = Float64Array.from(bar, (_, k) => START_MS + 1000 * intervalS! * k);
      const levels = { cutInBar: CUT_IN_BAR, cutOutBar: CUT_OUT_BAR };
      const runs = outletRuns(pumpRows(timeMs, bar, intervalS!, noiseBar!, 0), [
        { fromMs: 0, toMs: Number.POSITIVE_INFINITY, levels },
      ]);
      expect(runs).toHaveLength(3);
      // Under noise a fill over twenty rows may seem to begin a row or two off.
      const rows = runs.map(({ startRow }, k) => Math.abs(startRow - startRows[k]!));
      expect(Math.max(...rows), `seed ${seed}`).toBeLessThanOrEqual(intervalS === 1 ? 3 : 1);
    }
  });
});

describe('a start between rows a minute apart', () => {
  const noise = random(5);
  const still = (level: number, rows: number): number[] =>
    Array.from({ length: rows }, () => level + 0.02 * (noise() - 0.5));
  const startsOf = (bar: number[]): number[] => {
    const timeMs = Float64Array.from(bar, (_, k) => START_MS + 60_000 * k);
    const levels = { cutInBar: CUT_IN_BAR, cutOutBar: CUT_OUT_BAR };
    const rows = pumpRows(timeMs, Float64Array.from(bar), 60, 0.007, 0);
    const spans = [{ fromMs: 0, toMs: Number.POSITIVE_INFINITY, levels }];
    return outletRuns(rows, spans).map(({ startRow }) => startRow);
  };

  it('shows in the jump from a rest in the midst of the band, the fall to cut-in between two rows', () => {
    const bar = [...still(3.5, 20), ...still(2.6, 20), ...still(3.5, 20)];
    expect(startsOf(bar)).toEqual([39]);
  });

  it('shows after a run whose stop fell between rows, once the pressure has stood still for longer than pumps run', () => {
    const run = [...still(3.5, 20), 2.08, 2.35, 2.58];
    expect(startsOf([...run, ...still(2.15, 40), ...still(3.5, 20)])).toEqual([20, 62]);
    // As long as a draw may hold a running pump still, the rise may be its last.
    expect(startsOf([...run, ...still(2.15, 8), ...still(3.5, 20)])).toEqual([20]);
  });
});

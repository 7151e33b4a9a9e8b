import { describe, expect, it } from 'vitest';
import { beginDecoding, type DecodedRun, decodeRow, endDecoding } from '../../../../api/analysis/pump/saw-decoder.ts';
import { random } from './seeded-random.ts';

/*
 * The period of a cycle under a draw is V/q + V/(Q − q), the rest and the fill (reference-values.md 2.2, CY-6). Against
 * noise of a quarter of the band no single turn of it shows.
 */
const LEVELS = { cutInBar: 2.4, cutOutBar: 2.65 };
const NOISE_BAR = 0.05;

function seededNormal(seed: number): () => number {
  const next = random(seed);
  return () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
}

function decoded(bar: Float64Array): DecodedRun[] {
  const decoder = beginDecoding(LEVELS, NOISE_BAR, 0);
  const runs: DecodedRun[] = [];
  for (const reading of bar) runs.push(...decodeRow(decoder, reading));
  return [...runs, ...endDecoding(decoder)];
}

/** Rests at cut-out with spells of a draw in between; gives the rows of the starts as well. */
function house(seed: number, rows: number, restS: number, fillS: number): { bar: Float64Array; starts: number[] } {
  const normal = seededNormal(seed);
  const band = LEVELS.cutOutBar - LEVELS.cutInBar;
  const starts: number[] = [];
  const bar = Float64Array.from({ length: rows }, (_, row) => {
    const sinceDraw = row % 600;
    const cycleS = sinceDraw < 20 * (restS + fillS) ? sinceDraw % (restS + fillS) : 0;
    if (cycleS === restS) starts.push(row);
    const level = cycleS <= restS ? 1 - cycleS / restS : (cycleS - restS) / fillS;
    return LEVELS.cutInBar + level * band + NOISE_BAR * normal();
  });
  return { bar, starts };
}

describe('the likeliest course of noisy readings', () => {
  it.each([
    [5, 2],
    [4, 2],
    [6, 4],
  ])('finds starts of a saw with %i s of rest and %i s of fill', (restS, fillS) => {
    const { bar, starts } = house(7, 12_000, restS, fillS);
    const claims = decoded(bar).map(({ startRow }) => startRow);
    const hit = starts.filter((row) => claims.some((claim) => Math.abs(claim - row) <= 2)).length;
    const right = claims.filter((claim) => starts.some((row) => Math.abs(claim - row) <= 2)).length;
    expect(hit / starts.length).toBeGreaterThan(0.93);
    expect(right / claims.length).toBeGreaterThan(0.95);
  });

  it.each([2.4, 2.45, 2.5, 2.55, 2.65])(
    'tells of at most one run in three hours where the pressure rests at %f bar',
    (restBar) => {
      const normal = seededNormal(11);
      const bar = Float64Array.from({ length: 50_000 }, () => restBar + NOISE_BAR * normal());
      expect(decoded(bar).length).toBeLessThanOrEqual(4);
    },
  );

  it('gives each run once, in order, starts before stops', () => {
    const runs = decoded(house(3, 20_000, 5, 2).bar);
    runs.forEach(({ startRow, stopRow }, k) => {
      expect(stopRow ?? startRow + 1).toBeGreaterThan(startRow);
      if (k > 0) expect(startRow).toBeGreaterThanOrEqual(runs[k - 1]!.stopRow!);
    });
  });
});

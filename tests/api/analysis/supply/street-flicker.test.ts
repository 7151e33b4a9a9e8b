import { describe, expect, it } from 'vitest';
import { streetFlickerBar } from '../../../../api/analysis/supply/street-flicker.ts';
import { seeded } from '../../../labelled/other-street/seeded.ts';

const DAY_ROWS = 86_400;

/** A day at 1 Hz: white noise, and so many draws of 0.5 bar spread over it, 30 s each. */
function day(noiseBar: number, drawsADay: number): Float64Array {
  const chance = seeded(`flicker/${noiseBar}/${drawsADay}`);
  const column = Float64Array.from({ length: DAY_ROWS }, () => 3 + noiseBar * chance.normal());
  for (let n = 0; n < drawsADay; n++) {
    const from = chance.whole(0, DAY_ROWS - 40);
    for (let i = from; i < from + 30; i++) column[i]! -= 0.5;
  }
  return column;
}

// The difference of two means of eight independent readings has a variance of σ²·2/8.
describe('the street’s flicker', () => {
  it.each([0, 60, 300])('is that of the noise with %i draws a day', (draws) => {
    expect(streetFlickerBar(day(0.02, draws), 8, 0) / (0.02 / 2)).toBeGreaterThan(0.9);
    expect(streetFlickerBar(day(0.02, draws), 8, 0) / (0.02 / 2)).toBeLessThan(1.3);
  });

  it('follows restless hours that make a third of the log', () => {
    const chance = seeded('restless');
    const restless = day(0.01, 100).map((bar, i) => (i % 10_800 < 3600 ? bar + 0.05 * chance.normal() : bar));
    expect(streetFlickerBar(restless, 8, 0)).toBeGreaterThan(0.02);
  });

  it('is the noise’s at a reading every 10 s too, where draws’ edges lie in every third difference', () => {
    const chance = seeded('slow flicker');
    const slow = Float64Array.from({ length: 8640 }, (_, i) => 3 - (i % 20 < 8 ? 0.2 : 0) + 0.01 * chance.normal());
    // Means of three readings: σ²·2/3.
    const ratio = streetFlickerBar(slow, 3, 0) / (0.01 * Math.sqrt(2 / 3));
    expect(ratio).toBeGreaterThan(0.9);
    expect(ratio).toBeLessThan(1.3);
  });

  it.each([0.7, 1, 1.4])(
    'isn’t one of the few values that a converter’s step leaves, at noise of %f steps',
    (steps) => {
      const chance = seeded('coarse flicker');
      const coarse = Float64Array.from(
        { length: 20_000 },
        () => 0.005 * Math.round((3 + 0.005 * steps * chance.normal()) / 0.005),
      );
      // Rounding adds a twelfth of a squared step (Sheppard's correction).
      const reading = 0.005 * Math.sqrt(steps * steps + 1 / 12);
      const ratio = streetFlickerBar(coarse, 3, 0.005) / (reading * Math.sqrt(2 / 3));
      expect(ratio).toBeGreaterThan(0.95);
      expect(ratio).toBeLessThan(1.2);
    },
  );

  it('is never nought', () => {
    expect(streetFlickerBar(new Float64Array(20).fill(3), 8, 0)).toBe(0.003);
    expect(streetFlickerBar(new Float64Array(3), 8, 0)).toBe(0.003);
    // Rounding alone: a rectangular distribution of one step (JCGM 100:2008, 4.3.7).
    expect(streetFlickerBar(new Float64Array(20).fill(3), 8, 0.02)).toBeCloseTo(0.02 / Math.sqrt(12), 12);
  });
});

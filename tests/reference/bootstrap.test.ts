import { describe, expect, it } from 'vitest';
import {
  bootstrapValues,
  changeInterval,
  drawnIndices,
  percentileInterval,
} from '../../api/analysis/statistics/bootstrap.ts';
import { mean, standardDeviation } from '../../api/analysis/statistics/moments.ts';

// Worked example: exact bootstrap of the mean of five values, all 3125 resamples (calculated).
const values = [2.1, 2.4, 2, 2.6, 2.9];

describe('bootstrap over clusters', () => {
  const means = bootstrapValues(5, (times) => values.reduce((sum, value, i) => sum + (value * times[i]!) / 5, 0), 3999);

  it('gives nearly the exact standard error 0.146969 and interval 2.12 to 2.68', () => {
    expect(mean(means)).toBeCloseTo(2.4, 2);
    expect(Math.abs(standardDeviation(means) / 0.146969 - 1)).toBeLessThan(0.04);
    const [low, high] = percentileInterval(means)!;
    expect(Math.abs(low - 2.12)).toBeLessThan(0.021);
    expect(Math.abs(high - 2.68)).toBeLessThan(0.021);
  });

  it('is the same each time', () => {
    expect(bootstrapValues(5, (times) => times[0]!)).toEqual(bootstrapValues(5, (times) => times[0]!));
  });

  it('tells no interval from a few resamples that could be told', () => {
    expect(percentileInterval(bootstrapValues(3, (times) => (times[0] === 3 ? 1 : Number.NaN), 99))).toBeUndefined();
  });
});

describe('the change of a mean between two groups of days', () => {
  it('has an interval that holds the true change in about 95 of 100 houses, also from few days', () => {
    const uniform = drawnIndices(99);
    const normal = () => Array.from({ length: 12 }, () => uniform(1_000_000) / 1e6).reduce((a, b) => a + b, -6);
    for (const days of [4, 7]) {
      let held = 0;
      for (let house = 0; house < 200; house++) {
        const side = (level: number) => Array.from({ length: days }, () => level + 0.05 * normal());
        const [low, high] = changeInterval(side(3), side(2.6))!;
        if (low < -0.4 && high > -0.4) held++;
      }
      expect(held / 2).toBeGreaterThanOrEqual(90);
      expect(held / 2).toBeLessThanOrEqual(99);
    }
  });

  it('is undefined from one day', () => {
    expect(changeInterval([1], [2, 3])).toBeUndefined();
  });
});

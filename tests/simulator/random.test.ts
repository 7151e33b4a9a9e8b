import { sampleKurtosis, sampleSkewness } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { RandomStream } from '../../simulator/random.ts';

const draws = (count: number, next: () => number): number[] => Array.from({ length: count }, next);
const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const variance = (values: readonly number[]): number => {
  const centre = mean(values);
  return mean(values.map((value) => (value - centre) ** 2));
};

describe('seeded chance', () => {
  it('repeats by seed and name, and differs by either', () => {
    const first = draws(
      50,
      (
        (r) => () =>
          r.bits()
      )(new RandomStream(7, 'street', '2026-05-04')),
    );
    const again = draws(
      50,
      (
        (r) => () =>
          r.bits()
      )(new RandomStream(7, 'street', '2026-05-04')),
    );
    const otherName = draws(
      50,
      (
        (r) => () =>
          r.bits()
      )(new RandomStream(7, 'street', '2026-05-05')),
    );
    const otherSeed = draws(
      50,
      (
        (r) => () =>
          r.bits()
      )(new RandomStream(8, 'street', '2026-05-04')),
    );
    expect(again).toEqual(first);
    expect(otherName.filter((value, i) => value === first[i])).toHaveLength(0);
    expect(otherSeed.filter((value, i) => value === first[i])).toHaveLength(0);
  });

  it('words don’t run together: ("ab", "c") is another stream than ("a", "bc")', () => {
    expect(new RandomStream(1, 'ab', 'c').bits()).not.toBe(new RandomStream(1, 'a', 'bc').bits());
  });

  // Moments of the named distributions (any handbook; NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6).
  it.each([
    ['uniform on [0, 1)', (r: RandomStream) => r.uniform(), 1 / 2, 1 / 12],
    ['standard normal', (r: RandomStream) => r.normal(), 0, 1],
    ['chi-square of 9', (r: RandomStream) => r.chiSquare(9), 9, 18],
    ['Poisson of 4.1', (r: RandomStream) => r.poisson(4.1), 4.1, 4.1],
    ['log-normal, mean 15, variation 0.8', (r: RandomStream) => r.logNormal(15, 0.8), 15, 144],
  ])('%s has its mean and variance', (_name, next, wantedMean, wantedVariance) => {
    const random = new RandomStream(3, 'moments');
    const values = draws(200_000, () => next(random));
    // Five standard errors of a mean of 200,000; 5 % for the variance, which heavy tails need.
    expect(Math.abs(mean(values) - wantedMean)).toBeLessThan(5 * Math.sqrt(wantedVariance / values.length));
    expect(variance(values) / wantedVariance).toBeGreaterThan(0.95);
    expect(variance(values) / wantedVariance).toBeLessThan(1.05);
  });

  it('the normal is symmetric with light tails', () => {
    const random = new RandomStream(5, 'shape');
    const values = draws(200_000, () => random.normal());
    expect(Math.abs(sampleSkewness(values))).toBeLessThan(0.03);
    expect(Math.abs(sampleKurtosis(values))).toBeLessThan(0.06);
    // Share within one and two standard deviations: 0.682689 and 0.954500 (standard table).
    expect(values.filter((v) => Math.abs(v) < 1).length / values.length).toBeCloseTo(0.682689, 2);
    expect(values.filter((v) => Math.abs(v) < 2).length / values.length).toBeCloseTo(0.9545, 2);
  });

  it('weighted choice follows its weights', () => {
    const random = new RandomStream(9, 'weights');
    const counts = [0, 0, 0];
    for (let i = 0; i < 60_000; i++) counts[random.weighted([1, 2, 3])]!++;
    expect(counts[0]! / 60_000).toBeCloseTo(1 / 6, 2);
    expect(counts[2]! / 60_000).toBeCloseTo(1 / 2, 2);
  });
});

import { describe, expect, it } from 'vitest';
import { compareOutlets, comparePressure } from '../../../../api/analysis/pump/after-fitting.ts';
import { random } from './seeded-random.ts';

// Hollander and Wolfe, paired data of chapter 3: V = 40, exact one-sided p 0.01953125, Hodges–Lehmann 0.46.
const X = [1.83, 0.5, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.3];
const Y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];

describe('before and after a fitting', () => {
  it('gives the handbook’s figures for paired readings', () => {
    const found = compareOutlets(X.map((after, k) => ({ outlet: `outlet ${k}`, before: Y[k]!, after })));
    expect(found.test.v).toBe(40);
    expect(found.test.greaterP).toBeCloseTo(0.01953125, 10);
    expect(found.gain).toBeCloseTo(0.46, 2);
    expect(found.interval![0]).toBeLessThan(found.gain!);
    expect(found.interval![1]).toBeGreaterThan(found.gain!);
  });

  it('says that two readings are too few, and gives the same interval on every call', () => {
    const two = [1, 2].map((before) => ({ outlet: `tap ${before}`, before, after: before + 1 }));
    expect(compareOutlets(two).answer).toBe('too few readings');
    const days = [1.1, 1.2, 1.0, 1.15];
    const once = comparePressure(days, [2.9, 3.0, 3.1])!;
    expect(once).toEqual(comparePressure(days, [2.9, 3.0, 3.1]));
    expect(once.answer).toBe('worked');
    expect(comparePressure(days, days)!.answer).toBe('no change shown');
    expect(comparePressure([], days)).toBeUndefined();
    // Resampling one day gives that day: an interval of no width would claim that nothing can be wrong.
    expect(comparePressure([1.1], [2.9])).toMatchObject({ answer: 'too few readings', interval: undefined });
  });
});

/*
 * Coverage by simulation: of seeded trials with a known gain, the share whose 95 % interval holds it. A binomial count of
 * 200 trials at 0.95 lies within 0.91 to 0.985 in 99 of 100 cases; bootstrap intervals of a median of few values are known to fall
 * a little short or long (Davison and Hinkley 1997, section 5.7, from memory), hence 0.90 to 0.99.
 */
describe('the 95 % intervals of a gain', () => {
  const TRIALS = 200;
  const GAIN = 0.8;
  const normal = (next: () => number): number => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
  const share = (holds: (next: () => number) => boolean): number => {
    const next = random(2026);
    let held = 0;
    for (let trial = 0; trial < TRIALS; trial++) if (holds(next)) held++;
    return held / TRIALS;
  };
  const within = (interval: readonly [number, number]): boolean => interval[0] <= GAIN && interval[1] >= GAIN;

  it.each([5, 12])('hold the truth for %i outlets', (outlets) => {
    const held = share((next) => {
      const pairs = Array.from({ length: outlets }, (_, k) => {
        const before = 6 + k;
        return { outlet: `outlet ${k}`, before, after: before + GAIN + 0.4 * normal(next) };
      });
      return within(compareOutlets(pairs).interval!);
    });
    expect(held).toBeGreaterThanOrEqual(0.9);
    expect(held).toBeLessThanOrEqual(0.99);
  });

  it.each([
    [5, 5],
    [7, 14],
  ])('hold the truth for %i days before and %i after', (before, after) => {
    const held = share((next) => {
      const days = (count: number, bar: number) => Array.from({ length: count }, () => bar + 0.15 * normal(next));
      return within(comparePressure(days(before, 1.5), days(after, 1.5 + GAIN))!.interval!);
    });
    expect(held).toBeGreaterThanOrEqual(0.9);
    expect(held).toBeLessThanOrEqual(0.99);
  });
});

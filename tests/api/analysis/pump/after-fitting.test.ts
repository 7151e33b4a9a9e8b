import { describe, expect, it } from 'vitest';
import { compareOutlets, comparePressure } from '../../../../api/analysis/pump/after-fitting.ts';

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
  });
});

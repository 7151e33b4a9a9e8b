import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { wilcoxonSignedRank } from '../../../../api/analysis/statistics/paired.ts';
import { daysToFirm, FIRM_P, inProportion, UNANIMOUS_DAYS } from '../../../../api/analysis/supply/days-to-firm.ts';

const differences = fc.array(fc.integer({ min: -50, max: 80 }), { minLength: 1, maxLength: 10 });
const p = (seen: readonly number[]) => wilcoxonSignedRank(seen).greaterP;

describe('days until a statement on sags is firm', () => {
  // Exact one-sided signed rank, all differences positive: P = 2⁻ⁿ (Hollander and Wolfe, chapter 3), 2⁻⁵ = 0.031 < 0.05.
  it.each([
    [[], 5],
    [[0.5], 4],
    [[0.5, 0.6], 3],
    [[0.5, 0.6, 0.4], 2],
    [[0.5, 0.6, 0.4, 0.3], 1],
    [[0.5, 0.6, 0.4, 0.3, 0.7], 0],
    // The smallest of five against: T⁺ = 14 of 15, P = 2/32 = 0.0625; one more alike makes P(T⁺ ≥ 20 | 6) = 2/64.
    [[0.5, 0.6, 0.4, -0.1, 0.7], 1],
    [[-0.5, -0.6, -0.4], null],
    [[0.5, -0.5], null],
  ])('%j: %j more', (seen, more) => {
    expect(daysToFirm(seen)).toBe(more);
  });

  it('five days of one mind are the fewest', () => {
    expect(UNANIMOUS_DAYS).toBe(5);
  });

  it('is nought exactly where chance is rarer than one in twenty already', () => {
    fc.assert(fc.property(differences, (seen) => (daysToFirm(seen) === 0) === p(seen) < FIRM_P));
  });

  it('the days that it promises make it firm, and fewer would not', () => {
    fc.assert(
      fc.property(differences, (seen) => {
        const more = daysToFirm(seen);
        if (more === null) return;
        const sorted = [...seen].sort((a, b) => a - b);
        expect(daysToFirm([...seen, ...inProportion(sorted, more)])).toBe(0);
        for (let fewer = 0; fewer < more; fewer++)
          expect(p([...seen, ...inProportion(sorted, fewer)])).toBeGreaterThanOrEqual(FIRM_P);
      }),
    );
  });

  it('does not depend on the order of the days', () => {
    fc.assert(fc.property(differences, (seen) => daysToFirm(seen) === daysToFirm([...seen].reverse())));
  });

  it('the same days over again never make it less firm', () => {
    fc.assert(
      fc.property(differences, fc.integer({ min: 1, max: 3 }), (seen, times) => {
        const log = Array.from({ length: times }, () => seen).flat();
        if (p(log) < FIRM_P) expect(p([...log, ...seen])).toBeLessThan(FIRM_P);
        const wait = (days: readonly number[]) => daysToFirm(days) ?? Number.POSITIVE_INFINITY;
        expect(wait([...log, ...seen])).toBeLessThanOrEqual(wait(log));
      }),
    );
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type DayAgainstMidday,
  daysToFirm,
  FIRM_P,
  inProportion,
  middayChance,
  UNANIMOUS_DAYS,
} from '../../../../api/analysis/supply/days-to-firm.ts';

const days = fc.array(fc.constantFrom<DayAgainstMidday>(1, 0, -1), { minLength: 1, maxLength: 10 });
const p = (seen: readonly DayAgainstMidday[]) => middayChance(seen).p;

describe('days until a statement on sags is firm', () => {
  // McNemar, exact and one-sided: the sign test of days that fell in the window only. 2⁻⁵ = 0.031 < 0.05.
  it.each<[DayAgainstMidday[], number | null]>([
    [[], 5],
    [[1], 4],
    [[1, 1], 3],
    [[1, 1, 1], 2],
    [[1, 1, 1, 1], 1],
    [[1, 1, 1, 1, 1], 0],
    // One day of five at midday only: of 11 days two, and nine the window's, (55 + 11 + 1)/2¹¹ = 0.033.
    [[1, 1, 1, 1, -1], 6],
    // A day that fell in both, or in neither, says nothing: one of five makes five of 23, to the nearest.
    [[1, 0, 0, 0, 0], 18],
    [[1, 0, 0, 0, 0, 0], null],
    [[0, 0, 0], null],
    [[-1, -1, -1], null],
    [[1, -1], null],
  ])('%j: %j more', (seen, more) => {
    expect(daysToFirm(seen)).toBe(more);
  });

  it('five days of one mind are the fewest', () => {
    expect(UNANIMOUS_DAYS).toBe(5);
  });

  it('is nought exactly where chance is rarer than one in twenty already', () => {
    fc.assert(fc.property(days, (seen) => (daysToFirm(seen) === 0) === p(seen) < FIRM_P));
  });

  it('the days that it promises make it firm, and fewer would not', () => {
    fc.assert(
      fc.property(days, (seen) => {
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
    fc.assert(fc.property(days, (seen) => daysToFirm(seen) === daysToFirm([...seen].reverse())));
  });

  it('the same days over again never make it less firm', () => {
    fc.assert(
      fc.property(days, fc.integer({ min: 1, max: 3 }), (seen, times) => {
        const log = Array.from({ length: times }, () => seen).flat();
        if (p(log) < FIRM_P) expect(p([...log, ...seen])).toBeLessThan(FIRM_P);
        const wait = (days: readonly DayAgainstMidday[]) => daysToFirm(days) ?? Number.POSITIVE_INFINITY;
        expect(wait([...log, ...seen])).toBeLessThanOrEqual(wait(log));
      }),
    );
  });
});

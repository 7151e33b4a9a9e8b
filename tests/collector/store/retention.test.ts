import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { Placement } from '../../../collector/model/logger.ts';
import { dueHours } from '../../../collector/store/retention.ts';

const HOUR_MS = 3_600_000;
const placement = (fromMs: number, siteId: string | undefined): Placement => ({
  loggerId: 'front-hall',
  fromMs,
  siteId,
  position: 'incoming',
  heightAboveSupplyPointM: 0,
});
const cuts: Record<string, number> = { short: 100, long: 50 };
const cut = (siteId: string | undefined) =>
  (siteId === undefined ? undefined : cuts[siteId]) ?? Number.NEGATIVE_INFINITY;

test('nothing is due where no site sets an age, in nobody’s house, or without a placement', () => {
  expect(dueHours([], cut)).toEqual([]);
  expect(dueHours([placement(0, 'for-good')], cut)).toEqual([]);
  expect(dueHours([placement(0, undefined)], cut)).toEqual([]);
});

test('a first placement covers what is older; each stay goes by its own site', () => {
  const moved = [
    placement(30 * HOUR_MS, 'short'),
    placement(60 * HOUR_MS, 'for-good'),
    placement(90 * HOUR_MS, 'short'),
  ];
  expect(dueHours(moved, cut)).toEqual([
    { from: 0, to: 60 },
    { from: 90, to: 100 },
  ]);
});

test('an hour that two sites share is kept as long as one of them keeps it', () => {
  expect(dueHours([placement(0, 'short'), placement(40.5 * HOUR_MS, 'long')], cut)).toEqual([
    { from: 0, to: 40 },
    { from: 40, to: 41 },
    { from: 41, to: 50 },
  ]);
  expect(dueHours([placement(0, 'short'), placement(60.5 * HOUR_MS, 'long')], cut)).toEqual([{ from: 0, to: 60 }]);
  expect(dueHours([placement(0, 'short'), placement(40.5 * HOUR_MS, 'for-good')], cut)).toEqual([{ from: 0, to: 40 }]);
});

test('an hour is due exactly when every place it was recorded at keeps it no longer', () => {
  const places = fc.array(
    fc.record({
      at: fc.integer({ min: 0, max: 480 }),
      siteId: fc.constantFrom('short', 'long', 'for-good', undefined),
    }),
    { minLength: 1, maxLength: 6 },
  );
  fc.assert(
    fc.property(places, (drawn) => {
      const distinct = [...new Map(drawn.map((one) => [one.at, one])).values()].sort((a, b) => a.at - b.at);
      const placements = distinct.map(({ at, siteId }) => placement(at * (HOUR_MS / 4), siteId));
      const ranges = dueHours(placements, cut);
      for (let hour = 0; hour < 125; hour++) {
        const quarters = [0, 1, 2, 3].map((quarter) => hour * 4 + quarter);
        const sites = quarters.map((quarter) => (distinct.findLast((one) => one.at <= quarter) ?? distinct[0]!).siteId);
        const expected = sites.every((siteId) => hour < cut(siteId));
        expect(ranges.filter(({ from, to }) => from <= hour && hour < to).length).toBe(expected ? 1 : 0);
      }
    }),
  );
});

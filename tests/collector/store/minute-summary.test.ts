import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  bucketsOf,
  coarsen,
  decodeDay,
  encodeDay,
  joinMinutes,
  type Minutes,
  minutesOf,
} from '../../../collector/store/minute-summary.ts';
import { START_MS, steadyPiece } from './store-under-test.ts';

const DAY = START_MS / 86_400_000;
const plain = (units: readonly Minutes[]) =>
  units.map((entry) => Object.fromEntries(Object.entries(entry).map(([name, column]) => [name, [...column]])));

const sentValue = fc
  .oneof(
    fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e290, max: 1e290 }),
    fc.double({ min: -1e6, max: 1e6, noNaN: true }),
    fc.integer({ min: -10_000, max: 10_000 }).map((millibars) => millibars / 1000),
  )
  .map((value) => Number(value.toPrecision(9)) + 0);

test('a day of minutes comes back exactly, whatever the values', () => {
  fc.assert(
    fc.property(
      fc.uniqueArray(fc.integer({ min: 0, max: 86_399 }), { minLength: 1, maxLength: 300 }),
      fc.array(sentValue, { minLength: 1, maxLength: 100 }),
      (seconds, values) => {
        const timeMs = Float64Array.from(
          seconds.sort((a, b) => a - b),
          (second) => START_MS + second * 1000,
        );
        const value = Float64Array.from(timeMs, (_, i) => values[i % values.length]!);
        const units = minutesOf([{ unit: 'bar', timeMs, value, flags: undefined }]);
        expect(plain(decodeDay(DAY, encodeDay(DAY, units)))).toEqual(plain(units));
      },
    ),
    { numRuns: 300 },
  );
});

test('parts in any order join to the summary of the whole', () => {
  const whole = steadyPiece(0, 4000, {});
  const part = (from: number, to: number) =>
    minutesOf([{ unit: 'bar', timeMs: whole.timeMs.slice(from, to), value: whole.value.slice(from, to) }]);
  const joined = joinMinutes([...part(2400, 4000), ...part(0, 1200), ...part(1200, 2400)]);
  expect(plain(joined)).toEqual(plain(minutesOf([{ unit: 'bar', timeMs: whole.timeMs, value: whole.value }])));
  const hours = bucketsOf(coarsen(joined[0]!, 60), 3_600_000);
  expect([...hours.count]).toEqual([3600, 400]);
});

test('a day of minutes at 1 Hz takes less than 0.05 byte a sample', () => {
  const { timeMs, value } = steadyPiece(0, 86_400);
  const bytes = encodeDay(DAY, minutesOf([{ unit: 'bar', timeMs, value }])).length;
  expect(bytes / 86_400).toBeLessThan(0.05);
});

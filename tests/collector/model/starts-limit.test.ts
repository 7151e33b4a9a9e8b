import { describe, expect, it } from 'vitest';
import { NEMA_MG_10_STARTS, startsLimitExamples } from '../../../collector/model/starts-limit.ts';

// NEMA MG 10, the table of allowed starts and starting intervals, as reprinted by two trade handbooks.
describe('the examples of a limit of starts', () => {
  it.each([
    [2, 1, 15, 75],
    [2, 2, 11.5, 77],
    [2, 5, 8.1, 83],
    [4, 1, 30, 38],
    [4, 3, 19.8, 40],
    [4, 5, 16.3, 42],
  ] as const)('%d poles, %d hp: %d an hour, %d s of rest', (poles, horsepower, startsPerHour, leastRestS) => {
    expect(NEMA_MG_10_STARTS).toContainEqual({ poles, horsepower, startsPerHour, leastRestS });
  });

  it('stand in one line', () => {
    expect(startsLimitExamples()).toBe('2-pole 1 hp 15, 2 hp 11.5, 3 hp 9.9; 4-pole 1 hp 30, 2 hp 23, 3 hp 19.8');
  });
});

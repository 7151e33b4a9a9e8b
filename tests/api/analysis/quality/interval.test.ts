import { describe, expect, it } from 'vitest';
import { coverage } from '../../../../api/analysis/quality/coverage.ts';
import { estimateIntervalS } from '../../../../api/analysis/quality/interval.ts';

const START_MS = Date.parse('2026-05-04T00:00:00Z');
const every = (stepS: number, count: number) =>
  Float64Array.from({ length: count }, (_, i) => START_MS + i * stepS * 1000);

describe('the logging interval', () => {
  it('of a log that came newest first is that of the sorted stamps', () => {
    // Two stamps a second apart at a restart are the only steps forward.
    const reversed = every(10, 2000).reverse();
    const odd = Float64Array.from([...reversed.subarray(0, 900), reversed[899]! + 1000, ...reversed.subarray(900)]);
    expect(estimateIntervalS(reversed)).toBe(10);
    expect(estimateIntervalS(odd)).toBe(10);
  });

  it('of batches that came late is that of the steps forward', () => {
    const stamps = every(10, 600);
    const late = Float64Array.from([...stamps.subarray(0, 200), ...stamps.subarray(400), ...stamps.subarray(200, 400)]);
    expect(estimateIntervalS(late)).toBe(10);
  });
});

describe('coverage of a log without one rate', () => {
  it('says why so few of the expected readings are there', () => {
    let at = START_MS;
    const mixed = Float64Array.from({ length: 3000 }, (_, i) => {
      at += [5, 5, 20, 5, 60][i % 5]! * 1000;
      return at;
    });
    const { validFraction, reason } = coverage(mixed, new Float64Array(3000).fill(2), 5000, 'Europe/London');
    expect(validFraction).toBeLessThan(0.5);
    expect(reason).toMatch(
      /no one rate: half of them come 5 s or less after the one before, 40 in a hundred later, up to 60 s/,
    );
  });

  it('has no reason to give where the rate is one', () => {
    const stamps = every(10, 3000).filter((_, i) => i % 50 !== 0);
    expect(coverage(stamps, new Float64Array(stamps.length).fill(2), 10_000, 'Europe/London').reason).toBeUndefined();
  });
});

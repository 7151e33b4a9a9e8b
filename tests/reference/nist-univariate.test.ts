import { describe, expect, it } from 'vitest';
import { autocorrelation, mean, standardDeviation } from '../../api/analysis/statistics/moments.ts';
import { quantile } from '../../api/analysis/statistics/quantile.ts';
import { UNIVARIATE_SETS } from './nist-univariate-sets.ts';

/** Digits that agree: the log relative error of the NIST StRD. */
function digits(value: number, certified: number): number {
  return value === certified ? 15 : -Math.log10(Math.abs(value - certified) / Math.abs(certified));
}

/** Decimal data aren't exact in binary, so that no double could keep all fifteen. */
const ASKED_DIGITS = 12;

describe('moments against the measured sets of the NIST StRD', () => {
  it.each(UNIVARIATE_SETS)('$name', (set) => {
    expect(digits(mean(set.values), set.mean)).toBeGreaterThan(14);
    expect(digits(standardDeviation(set.values), set.standardDeviation)).toBeGreaterThan(ASKED_DIGITS);
    expect(digits(autocorrelation(set.values), set.lag1Autocorrelation)).toBeGreaterThan(ASKED_DIGITS);
  });

  it.each(UNIVARIATE_SETS)('$name: the order counts for the autocorrelation only', (set) => {
    const ascending = set.values.toSorted((a, b) => a - b);
    expect(digits(mean(ascending), set.mean)).toBeGreaterThan(ASKED_DIGITS);
    expect(digits(standardDeviation(ascending), set.standardDeviation)).toBeGreaterThan(ASKED_DIGITS);
    expect(digits(autocorrelation(ascending), set.lag1Autocorrelation)).toBeLessThan(ASKED_DIGITS / 2);
    for (const p of [0, 0.05, 0.25, 0.5, 0.95, 1]) expect(quantile(ascending, p)).toBe(quantile(set.values, p));
  });
});

import fc from 'fast-check';
import {
  binomialDistribution,
  errorFunction,
  linearRegression,
  factorial as simpleFactorial,
  medianAbsoluteDeviation as simpleMad,
  mean as simpleMean,
  median as simpleMedian,
  probit as simpleProbit,
  quantile as simpleQuantile,
  sampleStandardDeviation as simpleSd,
  wilcoxonRankSum,
} from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { fisherExact, mcnemarGreaterP, signGreaterP } from '../../api/analysis/statistics/counts.ts';
import { mean, standardDeviation } from '../../api/analysis/statistics/moments.ts';
import { normalCdf } from '../../api/analysis/statistics/normal.ts';
import { hodgesLehmann, wilcoxonSignedRank } from '../../api/analysis/statistics/paired.ts';
import { fitPower } from '../../api/analysis/statistics/power-fit.ts';
import { median, quantile, quantileOfSorted, sortedFinite } from '../../api/analysis/statistics/quantile.ts';
import { MAD_TO_SIGMA, medianAbsoluteDeviation } from '../../api/analysis/statistics/robust.ts';
import { mannKendall, theilSen } from '../../api/analysis/statistics/trend.ts';
import { UNIVARIATE_SETS } from './nist-univariate-sets.ts';

/** Pressures on a grid of a millibar, so that ties are common. */
const pressureBar = fc.integer({ min: -1000, max: 16_000 }).map((millibar) => millibar / 1000);
const pressures = fc.array(pressureBar, { minLength: 1, maxLength: 60 });
const share = fc.double({ min: 0, max: 1, noNaN: true });

/** Differences of pairs: few sizes, so that noughts and ties are common. */
const difference = fc.integer({ min: -6, max: 6 }).map((step) => step / 2);

describe('moments, quantiles and robust scale beside simple-statistics', () => {
  it('mean and standard deviation', () => {
    fc.assert(
      fc.property(pressures, (values) => {
        expect(mean(values)).toBeCloseTo(simpleMean(values), 11);
        if (values.length > 1) expect(standardDeviation(values)).toBeCloseTo(simpleSd(values), 11);
      }),
    );
  });

  it('quantiles of type 7, median and median absolute deviation', () => {
    fc.assert(
      fc.property(pressures, share, (values, p) => {
        expect(quantile(values, p)).toBeCloseTo(simpleQuantile(values, p), 11);
        expect(median(values)).toBeCloseTo(simpleMedian(values), 11);
        expect(medianAbsoluteDeviation(values)).toBeCloseTo(simpleMad(values), 11);
      }),
    );
  });

  it.each(UNIVARIATE_SETS)('quantiles, median and median absolute deviation of $name', ({ values }) => {
    const plain = [...values];
    for (let percent = 0; percent <= 100; percent++) {
      expect(quantile(values, percent / 100)).toBeCloseTo(simpleQuantile(plain, percent / 100), 9);
    }
    expect(median(values)).toBeCloseTo(simpleMedian(plain), 11);
    expect(medianAbsoluteDeviation(values)).toBeCloseTo(simpleMad(plain), 11);
  });

  it('readings that are missing change no quantile, wherever they lie', () => {
    const holed = fc.array(fc.oneof(pressureBar, fc.constant(Number.NaN)), { maxLength: 40 });
    fc.assert(
      fc.property(holed, share, (values, p) => {
        const known = values.filter(Number.isFinite);
        expect(sortedFinite(values)).toHaveLength(known.length);
        if (known.length === 0) expect(quantile(values, p)).toBeNaN();
        else expect(quantile(values, p)).toBeCloseTo(simpleQuantile(known, p), 11);
      }),
    );
  });

  it('quantiles rise with p, from the least value to the greatest', () => {
    fc.assert(
      fc.property(pressures, share, share, (values, p, q) => {
        const sorted = sortedFinite(values);
        expect(quantileOfSorted(sorted, Math.min(p, q))).toBeLessThanOrEqual(quantileOfSorted(sorted, Math.max(p, q)));
        expect(quantileOfSorted(sorted, 0)).toBe(sorted[0]);
        expect(quantileOfSorted(sorted, 1)).toBe(sorted.at(-1));
      }),
    );
  });

  it('another zero moves location alone, another unit scales all alike', () => {
    fc.assert(
      fc.property(pressures, pressureBar, fc.integer({ min: 1, max: 100 }), (values, zero, unit) => {
        const moved = values.map((value) => unit * value + zero);
        expect(mean(moved)).toBeCloseTo(unit * mean(values) + zero, 8);
        expect(median(moved)).toBeCloseTo(unit * median(values) + zero, 8);
        expect(medianAbsoluteDeviation(moved)).toBeCloseTo(unit * medianAbsoluteDeviation(values), 8);
        if (values.length > 1) expect(standardDeviation(moved)).toBeCloseTo(unit * standardDeviation(values), 8);
      }),
    );
  });
});

describe('normal distribution beside simple-statistics', () => {
  it('distribution function, to the six digits that its error function has', () => {
    for (let z = -5; z <= 5; z += 0.01) {
      expect(normalCdf(z)).toBeCloseTo((1 + errorFunction(z / Math.SQRT2)) / 2, 6);
    }
  });
  it('scale of the median absolute deviation, to the three digits that its approximation has', () => {
    expect(1 / simpleProbit(0.75)).toBeCloseTo(MAD_TO_SIGMA, 2);
  });
});

describe('Wilcoxon’s signed ranks', () => {
  it('V is the rank sum of the rises among rises and falls (simple-statistics’ rank sum, mid-ranks for ties)', () => {
    fc.assert(
      fc.property(fc.array(difference, { maxLength: 60 }), (differences) => {
        const rises = differences.filter((d) => d > 0);
        const falls = differences.filter((d) => d < 0).map(Math.abs);
        fc.pre(rises.length > 0 && falls.length > 0);
        expect(wilcoxonSignedRank(differences).v).toBe(wilcoxonRankSum(rises, falls));
      }),
    );
  });

  it('its chance is that of all signs told off one by one', () => {
    fc.assert(
      fc.property(fc.array(difference, { minLength: 1, maxLength: 9 }), (differences) => {
        const sizes = differences.filter((d) => d !== 0).map(Math.abs);
        const { v, greaterP, exact } = wilcoxonSignedRank(differences);
        let asGreat = 0;
        for (let signs = 0; signs < 2 ** sizes.length; signs++) {
          const signed = sizes.map((size, i) => ((signs >> i) & 1 ? size : -size));
          if (wilcoxonSignedRank(signed).v >= v) asGreat++;
        }
        expect(exact).toBe(true);
        expect(greaterP).toBeCloseTo(asGreat / 2 ** sizes.length, 12);
      }),
    );
  });

  it('V both ways makes all ranks; a shift of all pairs moves the Hodges–Lehmann estimate as far', () => {
    fc.assert(
      fc.property(fc.array(difference, { minLength: 1, maxLength: 30 }), difference, (differences, shift) => {
        const n = differences.filter((d) => d !== 0).length;
        const turned = differences.map((d) => -d);
        expect(wilcoxonSignedRank(differences).v + wilcoxonSignedRank(turned).v).toBe((n * (n + 1)) / 2);
        expect(hodgesLehmann(differences.map((d) => d + shift))).toBeCloseTo(hodgesLehmann(differences) + shift, 12);
        expect(hodgesLehmann(turned)).toBeCloseTo(-hodgesLehmann(differences), 12);
      }),
    );
  });

  // Greatest rank sum of the falls at which so many pairs without ties still differ, one-sided, at 5 % and at 1 %: the
  // usual tables, as in Conover (from memory).
  it.each([
    { n: 6, at5: 2, at1: undefined },
    { n: 7, at5: 3, at1: 0 },
    { n: 8, at5: 5, at1: 1 },
    { n: 9, at5: 8, at1: 3 },
    { n: 10, at5: 10, at1: 5 },
    { n: 12, at5: 17, at1: 9 },
    { n: 15, at5: 30, at1: 19 },
    { n: 20, at5: 60, at1: 43 },
    { n: 25, at5: 100, at1: 76 },
  ])('table of critical values, $n pairs', ({ n, at5, at1 }) => {
    for (const [falls, level] of [[at5, 0.05] as const, [at1, 0.01] as const]) {
      if (falls === undefined) continue;
      expect(wilcoxonSignedRank(withFallRanks(n, falls)).greaterP).toBeLessThanOrEqual(level);
      expect(wilcoxonSignedRank(withFallRanks(n, falls + 1)).greaterP).toBeGreaterThan(level);
    }
  });

  /** Differences 1 to n, so many of them turned to falls that the falls' ranks sum to `sum`. */
  function withFallRanks(n: number, sum: number): number[] {
    const differences = Array.from({ length: n }, (_, i) => i + 1);
    let left = sum;
    for (let rank = n; rank >= 1; rank--) {
      if (rank > left) continue;
      differences[rank - 1] = -rank;
      left -= rank;
    }
    return differences;
  }
});

describe('counts of days beside simple-statistics', () => {
  it('sign test and McNemar: the tail of its binomial distribution', () => {
    for (let trials = 1; trials <= 60; trials++) {
      // Its list stops where less than 0.0001 is left; the lower tail, which the symmetry of p = 1/2 gives, is whole.
      const cells = binomialDistribution(trials, 0.5)!;
      let tail = 0;
      for (let others = 0; 2 * others <= trials; others++) {
        tail += cells[others]!;
        expect(signGreaterP(trials - others, trials)).toBeCloseTo(tail, 9);
        expect(mcnemarGreaterP(trials - others, others)).toBeCloseTo(tail, 9);
      }
    }
  });

  it('Fisher: fourfold tables by its factorials', () => {
    const group = fc.tuple(fc.nat(12), fc.nat(12)).map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const);
    const choose = (n: number, k: number) => simpleFactorial(n)! / simpleFactorial(k)! / simpleFactorial(n - k)!;
    fc.assert(
      fc.property(group, group, ([a, ofA], [b, ofB]) => {
        const chance = (k: number) => (choose(ofA, k) * choose(ofB, a + b - k)) / choose(ofA + ofB, a + b);
        let less = 0;
        let p = 0;
        for (let k = Math.max(0, a + b - ofB); k <= Math.min(ofA, a + b); k++) {
          if (k <= a) less += chance(k);
          if (chance(k) <= chance(a) * (1 + 1e-7)) p += chance(k);
        }
        const test = fisherExact({ with: [a, b], of: [ofA, ofB] });
        expect(test.less).toBeCloseTo(less, 9);
        expect(test.p).toBeCloseTo(p, 9);
      }),
    );
  });
});

describe('lines and powers beside simple-statistics’ least squares', () => {
  const x = Array.from({ length: 25 }, (_, i) => i + 1);
  const sized = fc.integer({ min: -500, max: 500 }).map((n) => n / 100);

  it('Theil–Sen and least squares agree where all points lie on a line', () => {
    fc.assert(
      fc.property(sized, sized, (slope, intercept) => {
        const y = x.map((at) => intercept + slope * at);
        const least = linearRegression(x.map((at, i) => [at, y[i]!]));
        expect(theilSen(x, y).slope).toBeCloseTo(least.m, 9);
        expect(theilSen(x, y).intercept).toBeCloseTo(least.b, 9);
      }),
    );
  });

  it('a power law without noise is a straight line of logarithms', () => {
    const exponent = fc.integer({ min: 50, max: 250 }).map((n) => n / 100);
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 500 }), exponent, (thousandths, n) => {
        const y = x.map((at) => (thousandths / 1000) * at ** n);
        const least = linearRegression(x.map((at, i) => [Math.log(at), Math.log(y[i]!)]));
        const fit = fitPower(x, y, { k: 0.01, n: 1.8 });
        expect(fit.n).toBeCloseTo(least.m, 7);
        expect(fit.k / Math.exp(least.b)).toBeCloseTo(1, 7);
      }),
    );
  });

  it('Mann–Kendall: turned round, S changes its sign alone; a rising list has every pair', () => {
    fc.assert(
      fc.property(fc.array(difference, { minLength: 2, maxLength: 40 }), (values) => {
        const [there, back] = [mannKendall(values), mannKendall(values.toReversed())];
        expect(back.s + there.s).toBe(0);
        expect(back.variance).toBe(there.variance);
        expect(back.oneSidedP).toBeCloseTo(there.oneSidedP, 12);
      }),
    );
    expect(mannKendall(x).s).toBe((25 * 24) / 2);
    expect(mannKendall(x).tau).toBe(1);
  });
});

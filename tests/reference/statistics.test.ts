import fc from 'fast-check';
import { sampleStandardDeviation, medianAbsoluteDeviation as simpleMad, mean as simpleMean } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { drawnIndices } from '../../api/analysis/statistics/bootstrap.ts';
import { likelySplits } from '../../api/analysis/statistics/change-point.ts';
import { fisherExact, mcnemarGreaterP, signGreaterP } from '../../api/analysis/statistics/counts.ts';
import { cusum } from '../../api/analysis/statistics/cusum.ts';
import { autocorrelation, correlatedValues, mean, standardDeviation } from '../../api/analysis/statistics/moments.ts';
import { normalCdf } from '../../api/analysis/statistics/normal.ts';
import { hodgesLehmann, wilcoxonSignedRank } from '../../api/analysis/statistics/paired.ts';
import { median, quantile } from '../../api/analysis/statistics/quantile.ts';
import { MAD_TO_SIGMA, medianAbsoluteDeviation } from '../../api/analysis/statistics/robust.ts';
import { mannKendall, theilSen } from '../../api/analysis/statistics/trend.ts';

/** Digits that agree: the log relative error of the NIST StRD. */
function digits(value: number, certified: number): number {
  return value === certified ? 15 : -Math.log10(Math.abs(value - certified) / Math.abs(certified));
}

// NIST StRD univariate sets NumAcc1–4; generated (pattern from memory), certified values from NIST.
const accuracySets = [
  { name: 'NumAcc1', values: [10000001, 10000003, 10000002], mean: 10000002, sd: 1, r1: -0.5, asked: 15 },
  { name: 'NumAcc2', values: alternating(1.2, 1.1, 1.3), mean: 1.2, sd: 0.1, r1: -0.999, asked: 12 },
  {
    name: 'NumAcc3',
    values: alternating(1000000.2, 1000000.1, 1000000.3),
    mean: 1000000.2,
    sd: 0.1,
    r1: -0.999,
    asked: 9,
  },
  {
    name: 'NumAcc4',
    values: alternating(10000000.2, 10000000.1, 10000000.3),
    mean: 10000000.2,
    sd: 0.1,
    r1: -0.999,
    asked: 8,
  },
];

function alternating(first: number, low: number, high: number): number[] {
  return [first, ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? low : high))];
}

describe('moments against the NIST StRD', () => {
  it.each(accuracySets)('$name', ({ values, mean: certified, sd, r1, asked }) => {
    expect(digits(mean(values), certified)).toBeGreaterThan(13);
    expect(digits(standardDeviation(values), sd)).toBeGreaterThanOrEqual(asked - 0.1);
    expect(autocorrelation(values)).toBeCloseTo(r1, 6);
  });

  it('would fail with the one-pass formula: NumAcc4 comes out as nought', () => {
    const { values } = accuracySets[3]!;
    const sum = values.reduce((a, b) => a + b, 0);
    const squares = values.reduce((a, b) => a + b * b, 0);
    const onePass = Math.sqrt(Math.max(0, (squares - sum ** 2 / values.length) / (values.length - 1)));
    expect(digits(onePass, 0.1)).toBeLessThan(2);
  });
});

describe('quantiles of type 7 (Hyndman and Fan 1996)', () => {
  const oneToTen = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10];
  it.each([
    [0.05, 1.45],
    [0.1, 1.9],
    [0.25, 3.25],
    [0.5, 5.5],
    [0.75, 7.75],
    [0.9, 9.1],
  ])('of 1 to 10 at %f is %f', (p, expected) => {
    expect(quantile(oneToTen, p)).toBeCloseTo(expected, 12);
  });
  it.each([
    [0.05, 16],
    [0.3, 23],
    [0.4, 29],
    [0.5, 35],
    [1, 50],
  ])('of 15 20 35 40 50 at %f is %f', (p, expected) => {
    expect(quantile([40, 15, 50, 20, 35], p)).toBeCloseTo(expected, 12);
  });
});

describe('robust scale', () => {
  it('scales the median absolute deviation by 1/Φ⁻¹(3/4)', () => {
    expect(normalCdf(1 / MAD_TO_SIGMA)).toBeCloseTo(0.75, 12);
  });
  it('agrees with simple-statistics', () => {
    const values = [3.1, 2.2, 8.4, 1.9, 2.7, 2.6, 3.3];
    expect(medianAbsoluteDeviation(values)).toBeCloseTo(simpleMad(values), 12);
    expect(mean(values)).toBeCloseTo(simpleMean(values), 12);
    expect(standardDeviation(values)).toBeCloseTo(sampleStandardDeviation(values), 12);
  });
});

describe('trend', () => {
  it('Theil–Sen passes an outlier by (example recalled from Helsel and Hirsch, attribution from memory)', () => {
    const line = theilSen([1, 2, 3, 4, 5, 6, 7], [1, 2, 3, 4, 5, 16, 7]);
    expect(line).toEqual({ slope: 1, intercept: 0 });
    expect(mannKendall([1, 2, 3, 4, 5, 16, 7]).tau).toBeCloseTo(0.904762, 6);
  });
  it('Mann–Kendall with ties: EPA QA/G-9S example', () => {
    const test = mannKendall([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]);
    expect(test.s).toBe(22);
    expect(test.variance).toBeCloseTo(155.33, 2);
    expect(test.z).toBeCloseTo(1.68495, 5);
    expect(test.oneSidedP).toBeCloseTo(0.046, 4);
  });
});

describe('paired comparison: Hollander and Wolfe', () => {
  const x = [1.83, 0.5, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.3];
  const y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
  const differences = x.map((value, i) => value - y[i]!);
  it('signed rank: V 40, exact one-sided p 10/512', () => {
    const test = wilcoxonSignedRank(differences);
    expect(test.v).toBe(40);
    expect(test.greaterP).toBeCloseTo(10 / 512, 12);
  });
  it('Hodges–Lehmann 0.46, median 0.49', () => {
    expect(hodgesLehmann(differences)).toBeCloseTo(0.46, 12);
    expect(median(differences)).toBeCloseTo(0.49, 12);
  });
  it('uses the normal approximation beyond forty pairs, close to the exact one', () => {
    const many = Array.from({ length: 41 }, (_, i) => (i % 3 === 0 ? -(i + 1) : i + 1));
    expect(wilcoxonSignedRank(many).exact).toBe(false);
    expect(wilcoxonSignedRank(many).greaterP).toBeCloseTo(wilcoxonSignedRank(many.slice(0, 40)).greaterP, 1);
  });
});

describe('counts of days', () => {
  it('sign test: Hollander and Wolfe’s depression scores, seven of nine fall (table 3.1; 46/512 by their binomial table)', () => {
    expect(signGreaterP(7, 9)).toBeCloseTo(46 / 512, 12);
  });
  it('sign test: Hollander and Wolfe, example 3.5 (beak-clapping, from memory): B 21 of 25, one-sided p about .0005', () => {
    expect(signGreaterP(21, 25)).toBeCloseTo(15_276 / 2 ** 25, 12);
    expect(signGreaterP(21, 25)).toBeCloseTo(0.0005, 4);
  });
  it('McNemar: Conover, 3.5 (a debate, from memory): 21 voters changed one way, 4 the other', () => {
    expect(mcnemarGreaterP(21, 4)).toBe(signGreaterP(21, 25));
  });
  it('McNemar: no pair that differs tells nothing, and pairs either way are even', () => {
    expect(mcnemarGreaterP(0, 0)).toBe(1);
    fc.assert(
      fc.property(fc.nat(60), fc.nat(60), (here, there) => {
        // P(X ≥ b) + P(X ≥ c) = 1 + P(X = b), by the symmetry of the binomial.
        const sum = mcnemarGreaterP(here, there) + mcnemarGreaterP(there, here);
        const next = mcnemarGreaterP(here, there) - (there > 0 ? signGreaterP(here + 1, here + there) : 0);
        expect(sum).toBeCloseTo(1 + next, 9);
      }),
    );
  });
  it('Fisher: the tea that a lady tasted, three of four right (Fisher, The Design of Experiments, II; R’s TeaTasting, from memory: 0.2429)', () => {
    // Three of the four cups that had milk first, one of the four others: so few of these, or fewer.
    expect(fisherExact({ with: [1, 3], of: [4, 4] }).less).toBeCloseTo(17 / 70, 12);
  });
  it('Fisher: twins of criminals (Fisher 1970, 21.02; R’s Convictions, from memory: 0.0004652 one-sided, 0.0005367 two-sided)', () => {
    const test = fisherExact({ with: [2, 10], of: [17, 13] });
    expect(test.less).toBeCloseTo(0.0004652, 7);
    expect(test.p).toBeCloseTo(0.0005367, 7);
  });
  it('Fisher does not care which group comes first, nor whether a thing or its lack is counted', () => {
    const group = fc.tuple(fc.nat(20), fc.nat(20)).map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const);
    fc.assert(
      fc.property(group, group, ([a, ofA], [b, ofB]) => {
        const { p } = fisherExact({ with: [a, b], of: [ofA, ofB] });
        expect(fisherExact({ with: [b, a], of: [ofB, ofA] }).p).toBeCloseTo(p, 9);
        expect(fisherExact({ with: [ofA - a, ofB - b], of: [ofA, ofB] }).p).toBeCloseTo(p, 9);
      }),
    );
  });
});

describe('CUSUM: NIST/SEMATECH e-Handbook 6.3.2.3', () => {
  const values = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
    327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
  ];
  it('signals first at group 14 with h 4.1959', () => {
    const { high, low } = cusum(values, 325, 0.3175);
    expect(high.findIndex((s) => s > 4.1959) + 1).toBe(14);
    expect(high[13]).toBeCloseTo(4.94, 10);
    expect(high[19]).toBeCloseTo(19.035, 10);
    expect(low[7]).toBeCloseTo(0.715, 10);
    expect(low[3]).toBeCloseTo(0.3325, 10);
  });
});

describe('autocorrelation', () => {
  it('counts neighbours of a first-order series as (1 + r)/(1 − r) for one (common practice, no source)', () => {
    const draw = drawnIndices();
    let value = 0;
    const series = Float64Array.from({ length: 20_000 }, () => {
      value = 0.6 * value + draw(1_000_000) / 1e6 - 0.5;
      return value;
    });
    expect(correlatedValues(series, 50)).toBeCloseTo(4, 0);
    expect(correlatedValues([1, -1, 1, -1, 1, -1], 3)).toBe(1);
  });
});

describe('a split between two levels', () => {
  const step = (at: number, size: number) => {
    const draw = drawnIndices(77);
    return Array.from({ length: 200 }, (_, i) => (i < at ? 0 : size) + draw(1000) / 1000 - 0.5);
  };

  it('is one place where the step is far above the noise, and a range where it isn’t', () => {
    expect(likelySplits(step(80, 5), 10, 1)).toEqual({ best: 80, first: 80, last: 80 });
    const small = likelySplits(step(80, 0.3), 10, 1);
    expect(small.first).toBeLessThanOrEqual(80);
    expect(small.last).toBeGreaterThanOrEqual(80);
    expect(small.last).toBeGreaterThan(small.first);
  });

  it('holds every place of a hole in which nothing is known', () => {
    const values = step(80, 5).map((value, i) => (i >= 75 && i < 90 ? Number.NaN : value));
    const { first, last } = likelySplits(values, 10, 1);
    expect([first, last]).toEqual([75, 90]);
  });
});

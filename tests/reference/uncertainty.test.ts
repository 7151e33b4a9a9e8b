import { describe, expect, it } from 'vitest';
import { mean, standardDeviation } from '../../api/analysis/statistics/moments.ts';
import { combine, ofLimits, ofResolution } from '../../api/analysis/uncertainty/combine.ts';
import { sensorBudget } from '../../api/analysis/uncertainty/sensor-budget.ts';
import { DEFAULT_THRESHOLDS } from '../../collector/model/site.ts';

/** Correlation coefficient of two lists (JCGM 100:2008, 5.2.2). */
function correlation(x: readonly number[], y: readonly number[]): number {
  const products = x.map((value, i) => (value - mean(x)) * (y[i]! - mean(y)));
  return products.reduce((a, b) => a + b, 0) / ((x.length - 1) * standardDeviation(x) * standardDeviation(y));
}

describe('JCGM 100:2008, H.2: resistance and reactance from correlated readings', () => {
  const v = [5.007, 4.994, 5.005, 4.99, 4.999];
  const i = [19.663, 19.639, 19.64, 19.685, 19.678].map((milliampere) => milliampere / 1000);
  const phi = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
  const inputs = [v, i, phi];
  const [V, I, P] = inputs.map(mean) as [number, number, number];
  const u = inputs.map((values) => standardDeviation(values) / Math.sqrt(values.length));
  const r = (a: number, b: number) => correlation(inputs[a]!, inputs[b]!);
  const uncertainty = (sensitivities: number[]) =>
    combine(
      sensitivities.map((c, k) => c * u[k]!),
      r,
    );

  it('R 127.732 with u 0.071', () => {
    const value = (V * Math.cos(P)) / I;
    expect(value).toBeCloseTo(127.732, 3);
    expect(uncertainty([value / V, -value / I, (-V * Math.sin(P)) / I])).toBeCloseTo(0.07107, 4);
  });
  it('X 219.847 with u 0.2956', () => {
    const value = (V * Math.sin(P)) / I;
    expect(value).toBeCloseTo(219.847, 3);
    expect(uncertainty([value / V, -value / I, (V * Math.cos(P)) / I])).toBeCloseTo(0.29558, 4);
  });
  it('Z 254.260 with u 0.2363', () => {
    const value = V / I;
    expect(value).toBeCloseTo(254.26, 2);
    expect(uncertainty([value / V, -value / I, 0])).toBeCloseTo(0.23634, 4);
  });
});

describe('a cheap transducer’s budget', () => {
  it('0–10 bar, ±0.1 bar, 12 bits: the worked budget’s terms', () => {
    expect(ofLimits(0.1)).toBeCloseTo(0.057735, 6);
    expect(ofResolution(0.0030518)).toBeCloseTo(0.000881, 6);
    expect(combine([0.057735, 0.017321, 0.01, 0.002831, 0.000881])).toBeCloseTo(0.061173, 5);
  });
  const site = {
    timeZone: 'Europe/London',
    sensor: { position: 'incoming', rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
    hasFlowMeter: false,
    thresholds: DEFAULT_THRESHOLDS,
  } as const;
  it('takes 1 % of the range where no accuracy is stated, and says so', () => {
    const budget = sensorBudget(site, 0, 0);
    expect(budget.assumed).toBe(true);
    expect(budget.expandedBar).toBeCloseTo(2 * 0.057735, 5);
    expect(budget.entries[0]!.source).toContain('assumed');
  });
  it('takes a calibration instead of the accuracy', () => {
    const calibrated = {
      ...site,
      sensor: { ...site.sensor, accuracyBar: 0.1, calibrationStandardUncertaintyBar: 0.01 },
    };
    expect(sensorBudget(calibrated, 0, 0).expandedBar).toBeCloseTo(0.02, 10);
  });
});

import type { AnalysisSite } from '../findings.ts';
import { COVERAGE_FACTOR, combine, ofLimits, ofResolution } from './combine.ts';

/** Taken where a transducer's data sheet is missing: 1 % of the range, limits of a rectangular distribution. */
export const ASSUMED_ACCURACY_OF_RANGE = 0.01;

export interface SensorBudget {
  readonly entries: readonly { source: string; standardUncertaintyBar: number }[];
  /** Combined standard uncertainty of a single reading. */
  readonly standardBar: number;
  /** The part that all readings share and averaging doesn't lessen: everything but noise. */
  readonly sharedBar: number;
  /** k = 2. */
  readonly expandedBar: number;
  readonly assumed: boolean;
}

/**
 * Uncertainty budget of a reading by JCGM 100: accuracy (or what a calibration left), quantisation, noise. A
 * calibration replaces the accuracy.
 * @param noiseBar one standard deviation of a single reading
 * @param quantumBar converter step; 0 where none shows
 */
export function sensorBudget(site: AnalysisSite, noiseBar: number, quantumBar: number): SensorBudget {
  const { accuracyBar, calibrationStandardUncertaintyBar, rangeBar } = site.sensor;
  const entries: { source: string; standardUncertaintyBar: number }[] = [];
  let assumed = false;
  if (calibrationStandardUncertaintyBar !== undefined) {
    entries.push({
      source: 'remaining after calibration against a gauge',
      standardUncertaintyBar: calibrationStandardUncertaintyBar,
    });
  } else if (accuracyBar !== undefined) {
    entries.push({
      source: `accuracy ±${accuracyBar} bar, rectangular`,
      standardUncertaintyBar: ofLimits(accuracyBar),
    });
  } else {
    assumed = true;
    const half = ASSUMED_ACCURACY_OF_RANGE * (rangeBar[1] - rangeBar[0]);
    entries.push({
      source: `accuracy not stated: ±${half} bar (1 % of the range) assumed, rectangular`,
      standardUncertaintyBar: ofLimits(half),
    });
  }
  if (quantumBar > 0) {
    entries.push({
      source: `converter steps of ${Number(quantumBar.toPrecision(3))} bar`,
      standardUncertaintyBar: ofResolution(quantumBar),
    });
  }
  const sharedBar = combine(entries.map((entry) => entry.standardUncertaintyBar));
  if (noiseBar > 0) entries.push({ source: 'noise of a single reading', standardUncertaintyBar: noiseBar });
  const standardBar = combine(entries.map((entry) => entry.standardUncertaintyBar));
  return { entries, standardBar, sharedBar, expandedBar: COVERAGE_FACTOR * standardBar, assumed };
}

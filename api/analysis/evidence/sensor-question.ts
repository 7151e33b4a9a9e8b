import { plusMinusBar } from '../../../collector/model/uncertainty-words.ts';
import type { AnalysisSite } from '../findings.ts';
import type { SupplyFindings } from '../supply/supply-findings.ts';
import { COVERAGE_FACTOR } from '../uncertainty/combine.ts';
import type { SensorBudget } from '../uncertainty/sensor-budget.ts';
import { bar, inWords } from './wording.ts';

/** How far the lowest standing pressure lies from the threshold, and what the sensor can tell apart there. */
export interface NearThreshold {
  /** Lowest standing pressure seen directly or told as a low period; undefined while nothing is known. */
  readonly lowestBar: number | undefined;
  /** Expanded uncertainty (k = 2) of what all readings share: more days don't lessen it. */
  readonly sharedUBar: number;
  readonly within: boolean;
}

export function nearThreshold(found: SupplyFindings, budget: SensorBudget): NearThreshold {
  const sharedUBar = COVERAGE_FACTOR * budget.sharedBar;
  const lowestBar = lowestStanding(found);
  return {
    lowestBar,
    sharedUBar,
    within: lowestBar !== undefined && Math.abs(lowestBar - found.thresholdAtLoggerBar) <= sharedUBar,
  };
}

/** What the sensor can't settle about low supply, and what would; undefined where it can settle all of it. */
export function sensorQuestion(found: SupplyFindings, budget: SensorBudget, site: AnalysisSite): string | undefined {
  const { lowestBar, sharedUBar, within } = nearThreshold(found, budget);
  const periods = found.lowSupply.length;
  const possible = found.lowSupply.filter((period) => !period.certain).length;
  const remedy =
    site.sensor.calibrationStandardUncertaintyBar === undefined
      ? 'calibrate it against a gauge at two pressures. More days won’t settle it'
      : 'this is what its calibration left; only a comparison with a better gauge would lessen it. More days won’t settle it';
  if (within) {
    const raised = found.thresholdAtLoggerBar !== site.thresholds.lowSupplyBar;
    const threshold = `${bar(site.thresholds.lowSupplyBar)}${raised ? ` (${bar(found.thresholdAtLoggerBar)} at the logger’s height)` : ''}`;
    return `The sensor’s ${plusMinusBar(sharedUBar)} can’t settle ${threshold}, since the lowest standing pressure so far is ${bar(lowestBar!)}: ${remedy}.`;
  }
  if (possible === 0) return undefined;
  const counted =
    possible === periods
      ? `${inWords(possible)} low-supply ${possible === 1 ? 'period is' : 'periods are'}`
      : `${inWords(possible)} of ${inWords(periods)} low-supply periods ${possible === 1 ? 'is' : 'are'}`;
  return `${counted} possible only, not certain, within the sensor’s ${plusMinusBar(sharedUBar)}: ${remedy}.`;
}

function lowestStanding({ standing, lowSupply }: SupplyFindings): number | undefined {
  let lowest = lowSupply.reduce((least, { minBar }) => Math.min(least, minBar), Number.POSITIVE_INFINITY);
  for (let i = 0; i < standing.bar.length; i++) {
    if (standing.interpolated[i] === 0 && standing.bar[i]! < lowest) lowest = standing.bar[i]!;
  }
  return Number.isFinite(lowest) ? lowest : undefined;
}

import { BAR_PER_METRE_OF_WATER } from '../../../collector/model/units.ts';
import type { AnalysisSite } from '../findings.ts';
import type { CleanSeries } from '../quality/clean-series.ts';
import { findOffsetSteps, type OffsetStep, undoOffsetSteps } from '../quality/offset-step.ts';
import { bridgeShortStretches } from './bridge-cells.ts';
import type { SupplyCurve } from './flow-draws.ts';
import { findLevelChanges, type LevelChange } from './level-changes.ts';
import { findLowSupply, type LowPeriod } from './low-supply.ts';
import { joinDraws, leastFallBar, type OwnDraw } from './own-draw.ts';
import { findPropertyChange } from './property-changes.ts';
import { rateTuning } from './rate-tuning.ts';
import { findSags, type WindowJudgement } from './sags.ts';
import { separateByFlow } from './separate-by-flow.ts';
import { type KnownStretch, type StreetEdge, separateByPressure } from './separate-by-pressure.ts';
import { CellSums, cellStepMs } from './standing-cells.ts';
import { type StandingPressure, standingPressure } from './standing-pressure.ts';
import { USUAL_TAP_LAW } from './tap-law.ts';
import { usableRows } from './usable-rows.ts';

/** A draw is reported from this share of the floor on: what was measured a little under it may have been over it. */
const REPORTED_SHARE = 0.8;

export interface SupplyFindings {
  readonly standing: StandingPressure;
  readonly draws: readonly OwnDraw[];
  readonly sags: readonly WindowJudgement[];
  readonly lowSupply: readonly LowPeriod[];
  /** The site's threshold brought to the logger's height. */
  readonly thresholdAtLoggerBar: number;
  readonly supplyChanges: readonly LevelChange[];
  readonly propertyChange: LevelChange | undefined;
  readonly offsetSteps: readonly OffsetStep[];
  readonly floor: { readonly dropBar: number; readonly durationS: number };
  readonly curve: SupplyCurve | undefined;
}

/**
 * The supply side of a log before the pump: own draws first, then everything else on standing pressure.
 * Undefined where no reading is usable.
 * @param pumpRuns when a pump behind the logger ran: those stretches are draws (position `pump_inlet`)
 * @param sensorSharedBar standard uncertainty that all readings share
 */
export function supplyFindings(
  series: CleanSeries,
  site: AnalysisSite,
  pumpRuns: readonly KnownStretch[],
  sensorSharedBar: number,
): SupplyFindings | undefined {
  const rows = usableRows(series);
  if (rows.timeMs.length < 2) return undefined;
  const { noiseBar, quantumBar, intervalS } = series;
  const tuning = rateTuning(intervalS);
  const leastFall = leastFallBar(noiseBar, quantumBar);
  const endMs = rows.timeMs[rows.timeMs.length - 1]! + intervalS * 1000;
  const sums = new CellSums(rows.timeMs[0]!, endMs, cellStepMs(intervalS));
  const { flowLpm } = rows;
  const metered = site.hasFlowMeter && flowLpm?.some((flow) => !Number.isNaN(flow));
  let separated: readonly OwnDraw[];
  let streetEdges: readonly StreetEdge[] = [];
  let curve: SupplyCurve | undefined;
  let law = USUAL_TAP_LAW;
  if (flowLpm && metered) {
    const byFlow = separateByFlow({ ...rows, flowLpm }, tuning, intervalS, leastFall, sums);
    separated = byFlow.draws;
    curve = byFlow.curve;
  } else {
    const byPressure = separateByPressure(rows, tuning, series, leastFall, pumpRuns, sums);
    separated = byPressure.draws;
    streetEdges = byPressure.streetEdges;
    law = byPressure.law;
  }
  // On a quiet main the converter's step doesn't average out.
  const cells = sums.close(noiseBar, noiseBar < 0.5 * quantumBar ? quantumBar / Math.sqrt(12) : 0.002);
  const offsetSteps = findOffsetSteps(streetEdges, cells, intervalS, noiseBar);
  undoOffsetSteps(cells, offsetSteps);
  bridgeShortStretches(cells);
  const standing = standingPressure(cells);
  const joined = joinDraws(separated, tuning.joinPauseS);
  const draws = joined.filter(
    (draw) => draw.endMs - draw.startMs >= tuning.shortestDrawS * 1000 && !(draw.dropBar < REPORTED_SHARE * leastFall),
  );
  const { lowSupplyBar, sagMinDepthBar } = site.thresholds;
  const thresholdAtLoggerBar = lowSupplyBar - BAR_PER_METRE_OF_WATER * site.sensor.heightAboveSupplyPointM;
  const supplyChanges = findLevelChanges(standing);
  // What a pump draws says nothing of the property's own pipes.
  const mayJudge = site.sensor.position === 'incoming';
  return {
    standing,
    draws,
    sags: findSags(standing, endMs, site.timeZone, sagMinDepthBar),
    lowSupply: findLowSupply(cells, thresholdAtLoggerBar, sensorSharedBar),
    thresholdAtLoggerBar,
    supplyChanges,
    propertyChange: mayJudge && supplyChanges.length === 0 ? findPropertyChange(draws, standing, law) : undefined,
    offsetSteps,
    floor: { dropBar: leastFall, durationS: tuning.shortestDrawS },
    curve,
  };
}

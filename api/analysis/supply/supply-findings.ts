import { BAR_PER_METRE_OF_WATER } from '../../../collector/model/units.ts';
import type { AnalysisSite } from '../findings.ts';
import { findOffsetSteps, type OffsetStep, undoOffsetSteps } from '../quality/offset-step.ts';
import { bridgeShortStretches } from './bridge-cells.ts';
import { DRAW_FEE, lengthFee } from './draw-courses.ts';
import { LONGEST_TURN_S } from './flow-draws.ts';
import { findLevelChanges, type LevelChange } from './level-changes.ts';
import { findLowSupply, type LogSpan, type LowPeriod } from './low-supply.ts';
import { joinDraws, type OwnDraw } from './own-draw.ts';
import { findPropertyChange } from './property-changes.ts';
import { findSags, type WindowJudgement } from './sags.ts';
import { closeCells, sharedCellBar } from './standing-cells.ts';
import { type StandingPressure, standingPressure } from './standing-pressure.ts';
import { tellingFallBar } from './street-costs.ts';
import type { AccountPart } from './supply-account.ts';
import type { SupplyCurve } from './supply-curve.ts';
import type { SupplyParameters } from './supply-parameters.ts';

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
 * The supply side of a log before the pump, from the account of its own draws: everything stands on standing pressure.
 * Undefined where no reading is usable.
 * @param parts of the whole log, in order
 * @param log from the first usable row to the end of the last
 * @param sensorSharedBar standard uncertainty that all readings share
 */
export function supplyFindings(
  parts: readonly AccountPart[],
  parameters: SupplyParameters,
  log: LogSpan,
  site: AnalysisSite,
  sensorSharedBar: number,
): SupplyFindings | undefined {
  if (parts.length === 0) return undefined;
  const { noiseBar, intervalS, tuning, leastFallBar: leastFall, curve, law } = parameters;
  const cells = closeCells(
    parts.map((part) => part.cells),
    log.endMs,
    noiseBar,
    sharedCellBar(parameters),
    parameters.unseenShare,
  );
  const streetEdges = parts.flatMap((part) => part.streetEdges);
  const offsetSteps = findOffsetSteps(streetEdges, cells, intervalS, noiseBar, leastFall);
  undoOffsetSteps(cells, offsetSteps);
  bridgeShortStretches(cells, parameters.street);
  const standing = standingPressure(cells);
  const joined = joinDraws(
    parts.flatMap((part) => part.draws),
    tuning.joinPauseS,
  );
  // The turns of the hand are taken off a metered draw's ends: the intervals with flow are what is long enough.
  const shortestMs = (draw: OwnDraw) =>
    1000 * (tuning.shortestDrawS - (draw.meanLpm === undefined ? 0 : Math.min(intervalS, LONGEST_TURN_S)));
  const draws = joined.filter(
    (draw) =>
      draw.endMs - draw.startMs >= shortestMs(draw) && !((draw.clearBar ?? draw.dropBar) < REPORTED_SHARE * leastFall),
  );
  const { lowSupplyBar, sagMinDepthBar } = site.thresholds;
  const thresholdAtLoggerBar = lowSupplyBar - BAR_PER_METRE_OF_WATER * site.sensor.heightAboveSupplyPointM;
  const supplyChanges = findLevelChanges(standing);
  // What a pump draws says nothing of the property's own pipes.
  const mayJudge = site.sensor.position === 'incoming';
  return {
    standing,
    draws,
    sags: findSags(standing, log.endMs, site.timeZone, sagMinDepthBar),
    lowSupply: findLowSupply(cells, thresholdAtLoggerBar, sensorSharedBar, log),
    thresholdAtLoggerBar,
    supplyChanges,
    propertyChange: mayJudge && supplyChanges.length === 0 ? findPropertyChange(draws, standing, law) : undefined,
    offsetSteps,
    floor: { dropBar: Math.max(leastFall, surelyTold(parameters)), durationS: tuning.shortestDrawS },
    curve,
  };
}

/** The fall from which a draw of the shortest length that is reported is told; nought where a meter tells it. */
function surelyTold({ metered, flickerBar, tuning }: SupplyParameters): number {
  if (metered) return 0;
  return tellingFallBar(flickerBar, tuning.rampMisfit, DRAW_FEE + lengthFee(1000 * tuning.shortestDrawS));
}

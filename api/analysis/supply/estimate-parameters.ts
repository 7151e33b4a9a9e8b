import type { NoiseFloor } from '../quality/noise-floor.ts';
import type { SupplyRows } from './account-window.ts';
import { fitSupplyCurve, flowDraws, LEAST_FLOW_LPM, type SupplyCurve } from './flow-draws.ts';
import { leastFallBar } from './own-draw.ts';
import { type RateTuning, rateTuning } from './rate-tuning.ts';
import { streetFlickerBar } from './street-flicker.ts';
import type { SupplyParameters } from './supply-parameters.ts';
import { USUAL_TAP_LAW } from './tap-law.ts';
import { usableRows } from './usable-rows.ts';

/**
 * What the account of a log asks of the whole of it, but for the tap's law, which its draws tell under the usual one.
 * @param rows the whole cleaned log
 * @param hasFlowMeter whether the flow is the household's own
 */
export function estimateSupplyParameters(
  rows: SupplyRows,
  intervalS: number,
  { noiseBar, quantumBar }: NoiseFloor,
  hasFlowMeter: boolean,
): SupplyParameters {
  const tuning = rateTuning(intervalS);
  const metered = hasFlowMeter && rows.flowLpm?.some((flow) => !Number.isNaN(flow)) === true;
  return {
    intervalS,
    noiseBar,
    quantumBar,
    tuning,
    leastFallBar: leastFallBar(noiseBar, quantumBar),
    flickerBar: metered ? 0 : streetFlickerBar(rows.pressureBar, tuning.levelRows, quantumBar),
    law: USUAL_TAP_LAW,
    metered,
    curve: metered ? fittedCurve(rows, intervalS, tuning) : undefined,
  };
}

function fittedCurve(rows: SupplyRows, intervalS: number, { joinPauseS }: RateTuning): SupplyCurve | undefined {
  const { timeMs, pressureBar, flowLpm, blocks } = usableRows(rows, intervalS);
  if (!flowLpm) return undefined;
  const draws = blocks.map(({ from, to }) => flowDraws(timeMs, flowLpm, from, to, joinPauseS, LEAST_FLOW_LPM));
  return fitSupplyCurve(pressureBar, flowLpm, blocks, draws);
}

import type { NoiseFloor } from '../quality/noise-floor.ts';
import type { SupplyRows } from './account-window.ts';
import { fitSupplyCurve, flowDraws, LEAST_FLOW_LPM } from './flow-draws.ts';
import { leastFallBar } from './own-draw.ts';
import { rateTuning } from './rate-tuning.ts';
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
  const usable = usableRows(rows, intervalS);
  const { timeMs, pressureBar, flowLpm, blocks } = usable;
  const metered = hasFlowMeter && flowLpm?.some((flow) => !Number.isNaN(flow)) === true;
  const curve =
    metered && flowLpm
      ? fitSupplyCurve(
          pressureBar,
          flowLpm,
          blocks,
          blocks.map(({ from, to }) => flowDraws(timeMs, flowLpm, from, to, tuning.joinPauseS, LEAST_FLOW_LPM)),
        )
      : undefined;
  return {
    intervalS,
    noiseBar,
    quantumBar,
    tuning,
    leastFallBar: leastFallBar(noiseBar, quantumBar),
    flickerBar: metered ? 0 : streetFlickerBar(pressureBar, tuning.levelRows, quantumBar),
    law: USUAL_TAP_LAW,
    metered,
    curve,
  };
}

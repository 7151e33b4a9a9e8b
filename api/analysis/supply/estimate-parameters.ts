import type { NoiseFloor } from '../quality/noise-floor.ts';
import type { SupplyRows } from './account-window.ts';
import { USUAL_UNSEEN_SHARE, unseenShareOf } from './balances.ts';
import { drawEvidence, drawWithNeighbour } from './carry-by-flow.ts';
import { flowDraws, idleAbout, LEAST_FLOW_LPM } from './flow-draws.ts';
import { leastFallBar } from './own-draw.ts';
import { type RateTuning, rateTuning } from './rate-tuning.ts';
import { fitSharedShare } from './shared-pipe.ts';
import { closeCells, sharedCellBar } from './standing-cells.ts';
import { streetFlickerBar } from './street-flicker.ts';
import { streetVariogram, USUAL_STREET } from './street-variogram.ts';
import type { AccountPart } from './supply-account.ts';
import { fitSupplyCurve, lossPoints, type SupplyCurve } from './supply-curve.ts';
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
    unseenShare: USUAL_UNSEEN_SHARE,
    street: USUAL_STREET,
    metered,
    curve: metered ? fittedCurve(rows, intervalS, tuning, { noiseBar, quantumBar }) : undefined,
  };
}

/** Parts of about a day each: more of them tell the street's habits no better, and a year's cells would take much memory. */
const TELLING_PARTS = 30;

/** The same with what only an account of the draws can tell: how well books keep here, and what the street does meanwhile. */
export function withAccount(parameters: SupplyParameters, parts: readonly AccountPart[]): SupplyParameters {
  if (parts.length === 0) return parameters;
  const some = parts.slice(0, TELLING_PARTS);
  const last = some.at(-1)!.cells;
  const endMs = last.firstMs + (last.count - 1) * last.stepMs;
  const cells = closeCells(
    some.map((part) => part.cells),
    endMs,
    parameters.noiseBar,
    sharedCellBar(parameters),
    parameters.unseenShare,
  );
  return {
    ...parameters,
    unseenShare: unseenShareOf(parts.flatMap((part) => part.balances)),
    street: streetVariogram(cells),
  };
}

function fittedCurve(
  rows: SupplyRows,
  intervalS: number,
  { joinPauseS }: RateTuning,
  { noiseBar, quantumBar }: NoiseFloor,
): SupplyCurve | undefined {
  const { timeMs, pressureBar, flowLpm, blocks } = usableRows(rows, intervalS);
  if (!flowLpm) return undefined;
  const draws = blocks.map(({ from, to }) => flowDraws(timeMs, flowLpm, from, to, joinPauseS, LEAST_FLOW_LPM));
  const readingSdBar = Math.hypot(noiseBar, quantumBar / Math.sqrt(12));
  const curve = fitSupplyCurve(lossPoints(pressureBar, flowLpm, blocks, draws), readingSdBar);
  if (!curve) return undefined;
  const withNeighbour = blocks.flatMap((block, b) =>
    draws[b]!.flatMap((draw, d) => {
      const idle = idleAbout(draws[b]!, d, block);
      const evidence = drawEvidence(pressureBar, flowLpm, draw, idle, curve, readingSdBar, intervalS);
      return drawWithNeighbour(evidence, intervalS) ?? [];
    }),
  );
  return { ...curve, sharedShare: fitSharedShare(curve.k, curve.n, withNeighbour) };
}

import type { PumpCurvePoint } from '../../../collector/model/pump-setting.ts';
import type { Evidence, PumpCurveCheck } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { curveSteps } from './curve-steps.ts';
import { PUMP_CAUTION } from './next-steps.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** After a start the pump has come up to speed by then; common practice, no source. */
const SETTLED_MS = 5_000;
/** The flow must have been steady over so long, or it doesn't belong to the pressure beside it. */
const STEADY_MS = 10_000;
const STEADY_SHARE = 0.1;
export const FEWEST_POINTS = 20;
/** Points of fewer runs say more of those runs than of the pump. */
export const FEWEST_SHOWN_RUNS = 3;
/** A sound pump gives its curve's head within this share; ISO 9906 grade 3B allows less (from memory). */
const SOUND_SHARE = 0.1;
/** Points of one run are nearly one: the error goes by the number of runs. */
const MEDIAN_95 = 2 * 1.2533;
/** Where the curve gives less, a small error of the transducers outweighs it. */
const LEAST_HEAD_BAR = 0.2;
const RULE =
  'While the pump runs at a steady flow and pressure, the head seen (after the pump less before it) over that of its curve ' +
  `at the same flow; the median over ${FEWEST_POINTS} readings and ${FEWEST_SHOWN_RUNS} runs or more. Below its curve where ` +
  `its whole 95 % interval lies under ${Math.round(100 * (1 - SOUND_SHARE))} %, on it where its whole interval lies above.`;

/**
 * Operating points against the curve: while the pump runs steadily, head seen is outlet less inlet, head expected is the
 * curve's at the metered flow (straight lines between its points, not extended). What a vessel gives or takes is left out
 * by asking for a steady pressure. Undefined without a curve, an inlet and a flow channel.
 */
export function operatingPoints(
  rows: PumpRows,
  runs: readonly PumpRun[],
  curve: readonly PumpCurvePoint[] | undefined,
  inletBar: ((row: number) => number) | undefined,
  flowLpm: ((row: number) => number) | undefined,
): PumpCurveCheck | undefined {
  if (!curve || !inletBar || !flowLpm) return undefined;
  const shares: number[] = [];
  const back = Math.max(1, Math.round(STEADY_MS / rows.intervalMs));
  let points = 0;
  for (const run of runs) {
    if (run.stopRow === undefined) continue;
    const own: number[] = [];
    for (let row = run.startRow + back; row < run.stopRow; row++) {
      if (rows.timeMs[row - back]! - run.startMs < SETTLED_MS) continue;
      const [flow, before] = [flowLpm(row), flowLpm(row - back)];
      const expected = headAt(curve, flow);
      if (expected === undefined || expected < LEAST_HEAD_BAR || Math.abs(flow - before) > STEADY_SHARE * flow)
        continue;
      const moved = Math.abs(rows.bar[row]! - rows.bar[row - back]!);
      const head = rows.bar[row]! - inletBar(row);
      if (moved > Math.max(0.02 * expected, 4 * rows.noiseBar) || !Number.isFinite(head)) continue;
      own.push(head / expected);
    }
    points += own.length;
    if (own.length > 0) shares.push(median(own));
  }
  if (points < FEWEST_POINTS || shares.length < FEWEST_SHOWN_RUNS) return undefined;
  const headShare = median(shares);
  const scatter = MAD_TO_SIGMA * median(shares.map((share) => Math.abs(share - headShare)));
  const error = (MEDIAN_95 * scatter) / Math.sqrt(shares.length);
  const interval: [number, number] = [headShare - error, headShare + error];
  const verdict =
    interval[1] < 1 - SOUND_SHARE ? 'below_its_curve' : interval[0] > 1 - SOUND_SHARE ? 'on_its_curve' : 'cannot_tell';
  return {
    points,
    headShare,
    interval,
    verdict,
    rule: RULE,
    ...(verdict === 'below_its_curve' ? { nextSteps: [...curveSteps({ verdict }), PUMP_CAUTION] } : {}),
  };
}

function headAt(curve: readonly PumpCurvePoint[], flowLpm: number): number | undefined {
  for (let k = 1; k < curve.length; k++) {
    const [a, b] = [curve[k - 1]!, curve[k]!];
    if (flowLpm < a.flowLpm || flowLpm > b.flowLpm) continue;
    return a.headBar + ((b.headBar - a.headBar) * (flowLpm - a.flowLpm)) / (b.flowLpm - a.flowLpm);
  }
  return undefined;
}

export function curveStatements(check: PumpCurveCheck | undefined): Evidence['statements'][number][] {
  if (!check || check.verdict === 'cannot_tell') return [];
  const share = `${Math.round(100 * check.headShare)} %`;
  return [
    {
      text:
        check.verdict === 'below_its_curve'
          ? `The pump lifts ${share} of what its curve gives at the same flow: it is worn, clogged or turns too slowly.`
          : `The pump lifts ${share} of what its curve gives: where it doesn’t reach cut-out, more is drawn than it is made for.`,
      certainty: 'certain',
    },
  ];
}

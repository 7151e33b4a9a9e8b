import type { PumpCurveCheck } from '../findings.ts';

/* Common practice of the trade, no source. */

const BELOW_CURVE =
  'Before the pump is given up: clean its strainer, see that the valves before and after it are fully open, and have its ' +
  'sense of rotation and its supply voltage checked; then have the impeller looked at.';
const MORE_DRAWN =
  'See which outlets ran together at that time: draw them one after another, or have the pump sized for all of them. Ask ' +
  'the supplier before a stronger one is connected: it draws more from the main.';

/** What to do next once the curve has told whether the pump is worn; nothing before. Without the cautions. */
export function curveSteps(check: Pick<PumpCurveCheck, 'verdict'> | undefined): readonly string[] {
  if (!check || check.verdict === 'cannot_tell') return [];
  return check.verdict === 'below_its_curve' ? [BELOW_CURVE] : [MORE_DRAWN];
}

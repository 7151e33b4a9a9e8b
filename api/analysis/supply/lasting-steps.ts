import { SLOWEST_TELLING_INTERVAL_S } from '../quality/offset-step.ts';
import { median } from '../statistics/quantile.ts';
import type { Edges } from './edge-levels.ts';

/** The level before and after is told by so much on either side, read once a minute. */
const LEVEL_MS = 6 * 3_600_000;
const READ_EVERY_MS = 60_000;
const FEWEST_READINGS = 60;
/** Smaller steps cost the street little anyway. */
const LEAST_STEP_BAR = 0.15;
/** The level moved by the step within this share of it: draws are shorter, and a street's day moves it too. */
const KEPT_SHARE = 0.4;
const KEPT_BAR = 0.03;

/**
 * Which edges the level of the hours about them keeps: 1 where it stepped with the edge and stayed. A draw's edge is undone
 * within hours; a sensor's zero, or a valve of the supplier, is not. At slow rates a street's edge fits between two rows,
 * and none is told.
 */
export function lastingSteps(
  timeMs: Float64Array,
  pressureBar: Float64Array,
  edges: Edges,
  intervalS: number,
): Uint8Array {
  const lasting = new Uint8Array(edges.count);
  if (intervalS > SLOWEST_TELLING_INTERVAL_S) return lasting;
  for (let k = 0; k < edges.count; k++) {
    const step = edges.afterBar[k]! - edges.beforeBar[k]!;
    if (Math.abs(step) < LEAST_STEP_BAR) continue;
    const before = levelBeside(timeMs, pressureBar, edges.row[k]! - 1, -1);
    const after = levelBeside(timeMs, pressureBar, edges.row[k]!, 1);
    if (before === undefined || after === undefined) continue;
    if (Math.abs(after - before - step) <= Math.max(KEPT_SHARE * Math.abs(step), KEPT_BAR)) lasting[k] = 1;
  }
  return lasting;
}

function levelBeside(timeMs: Float64Array, bar: Float64Array, row: number, side: -1 | 1): number | undefined {
  const readings: number[] = [];
  const away = (at: number) => side * (timeMs[at]! - timeMs[row]!);
  const inLog = (at: number) => at >= 0 && at < timeMs.length;
  let stride = 1;
  for (let i = row; inLog(i) && away(i) <= LEVEL_MS; ) {
    readings.push(bar[i]!);
    const next = away(i) + READ_EVERY_MS;
    // On a grid the next reading is as many rows on as the last one was.
    if (!inLog(i + side * stride) || away(i + side * stride) < next || away(i + side * (stride - 1)) >= next) {
      stride = 1;
      while (inLog(i + side * stride) && away(i + side * stride) < next) stride++;
    }
    i += side * stride;
  }
  return readings.length < FEWEST_READINGS ? undefined : median(readings);
}

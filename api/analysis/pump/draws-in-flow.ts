import { median } from '../statistics/quantile.ts';
import type { Rest } from './outflow.ts';
import { firstAfter, type PumpRows } from './pump-rows.ts';

/** The least flow that counts as a draw with a meter: under it meters creep. Common practice, no source. */
const LEAST_DRAW_LPM = 0.5;

/** The least flow, l/min, that counts as a draw in a channel; undefined where it holds nothing. */
export function leastDrawLpm(lpm: Float64Array): number | undefined {
  // A household draws for a small part of the day: what the meter shows at the median is a creeping meter or a leak.
  const shown = lpm.filter((value) => !Number.isNaN(value));
  if (shown.length === 0) return undefined;
  const usual = median(shown);
  const spread = median(shown.map((value) => Math.abs(value - usual)));
  return Math.max(LEAST_DRAW_LPM, usual + 8 * spread);
}

/** Undefined for a rest of which the flow channel has nothing to say; flows from `leastLpm` on are draws. */
export function drawsInFlow(
  rows: PumpRows,
  flow: { timeMs: Float64Array; lpm: Float64Array },
  rests: readonly Rest[],
  leastLpm: number | undefined,
): (k: number) => boolean | undefined {
  if (leastLpm === undefined) return () => undefined;
  const spans = rests.map((rest) => {
    // A flow is the mean over the interval that ends at its time: the first row after a stop still tells of the run.
    const fromMs = rows.timeMs[rest.fromRow]! + 1.5 * rows.intervalMs;
    const toMs = Math.max(rows.timeMs[rest.toRow]! + 0.5 * rows.intervalMs, fromMs);
    return { from: firstAfter(flow.timeMs, fromMs), to: firstAfter(flow.timeMs, toMs) };
  });
  return (k) => {
    const { from, to } = spans[k]!;
    let seen = false;
    for (let i = from; i < to; i++) {
      const lpm = flow.lpm[i]!;
      if (Number.isNaN(lpm)) continue;
      seen = true;
      if (lpm >= leastLpm) return true;
    }
    return seen ? false : undefined;
  };
}

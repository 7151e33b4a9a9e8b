import { noiseFloor } from '../quality/noise-floor.ts';
import { markOutOfRange } from '../quality/out-of-range.ts';
import { markSpikes, ordinarySpan } from '../quality/spikes.ts';
import { type PumpRows, pumpRows } from './pump-rows.ts';

/**
 * The usable rows of a second transducer before the pump: what lies beyond the measuring range and single spikes are taken
 * out as in the first one's readings, and its noise is its own. `rangeBar` is that of the first, for want of another.
 * Undefined where the column holds nothing.
 */
export function inletRowsOf(
  timeMs: Float64Array,
  inletBar: Float64Array | undefined,
  intervalS: number,
  rangeBar: readonly [number, number],
): PumpRows | undefined {
  if (!inletBar?.some((bar) => !Number.isNaN(bar))) return undefined;
  const bar = inletBar.slice();
  const intervalMs = intervalS * 1000;
  markOutOfRange(timeMs, bar, rangeBar, intervalMs);
  const { noiseBar, quantumBar } = noiseFloor(bar);
  markSpikes(timeMs, bar, noiseBar, quantumBar, intervalMs, ordinarySpan(bar));
  return pumpRows(timeMs, bar, intervalS, noiseBar, quantumBar);
}

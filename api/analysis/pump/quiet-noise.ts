import { quantile } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA, medianAbsoluteDeviation } from '../statistics/robust.ts';

/** No transducer that is of any use is noisier; what looks so is a pump that turns from row to row. Common practice, no source. */
const BELIEVABLE_BAR = 0.06;
/** Noise is sought in blocks of so many rows, and the quieter ones tell it: a household sleeps for a part of the day. */
const BLOCK_ROWS = 120;
const QUIET_BLOCKS = 0.05;
/** A quiet block's own estimate scatters by about this share. */
const SPARE = 1.25;

/**
 * The sensor's noise where a log's usual estimate is beyond belief: with rows a minute apart a cycling pump moves every
 * one of them. Second differences of a block's readings (their spread is √6 times the noise), the quietest
 * blocks of all.
 */
export function quietNoiseBar(pressureBar: Float64Array, noiseBar: number, quantumBar: number): number {
  // A converter's coarse steps are noise indeed.
  if (noiseBar <= Math.max(BELIEVABLE_BAR, 2 * quantumBar)) return noiseBar;
  const known = pressureBar.filter((bar) => !Number.isNaN(bar));
  const blocks: number[] = [];
  for (let from = 0; from + BLOCK_ROWS <= known.length; from += BLOCK_ROWS) {
    const seconds = new Float64Array(BLOCK_ROWS - 2);
    for (let k = 0; k < seconds.length; k++) {
      seconds[k] = known[from + k]! - 2 * known[from + k + 1]! + known[from + k + 2]!;
    }
    blocks.push((MAD_TO_SIGMA * medianAbsoluteDeviation(seconds)) / Math.sqrt(6));
  }
  if (blocks.length === 0) return noiseBar;
  return Math.min(BELIEVABLE_BAR, Math.max(SPARE * quantile(blocks, QUIET_BLOCKS), 1e-4));
}

import { outflowIndex, type Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { RestingProfile } from './resting-profile.ts';

/** A rest in so many blocks of readings, or in one a reading where it has fewer. */
const BLOCKS = 64;
/** Steps are looked for between means of so many blocks: a quick draw among quiet readings, a small one among noisy ones. */
const NARROW_BLOCKS = 2;
const WIDE_SHARE = 1 / 8;
const FEWEST_BLOCKS = 6;

/** What a rest lost, and the largest part of it that went within a short while. */
export interface LossSteps {
  readonly lengthMs: number;
  /** Lost from the first block to the last, in even outflow: index over the resting profile. */
  readonly lost: number;
  /** Between the middles of those blocks. */
  readonly lostMs: number;
  readonly steps: readonly LossStep[];
}

/** The largest loss within a while, as even outflow, and the noise of such a difference. */
export interface LossStep {
  readonly loss: number;
  readonly overMs: number;
  readonly noise: number;
}

/** Even outflow by outflow index: what flows by the profile then runs straight against the clock. */
export type EvenOutflow = (index: number) => number;

const TABLE = 64;

/** Integrates the profile over a plant's range of levels; straight on beyond it. */
export function evenOutflow(profile: RestingProfile, lowestBar: number, highestBar: number): EvenOutflow {
  const from = outflowIndex(highestBar);
  const width = (outflowIndex(lowestBar) - from) / TABLE;
  if (!(width > 0)) return (index) => index;
  const table = new Float64Array(TABLE + 1);
  for (let k = 0; k < TABLE; k++) table[k + 1] = table[k]! + width / profile(from + (k + 0.5) * width);
  return (index) => {
    const k = Math.max(0, Math.min(TABLE - 1, Math.floor((index - from) / width)));
    const part = (index - from) / width - k;
    return table[k]! + part * (table[k + 1]! - table[k]!);
  };
}

/** Undefined for a rest with too few readings. Linear in its rows. */
export function lossSteps(rows: PumpRows, rest: Rest, even: EvenOutflow): LossSteps | undefined {
  // The turns themselves are the pump's.
  const from = rest.fromRow + 1;
  const count = rest.toRow - from;
  const size = Math.max(1, Math.floor(count / BLOCKS));
  const blocks = Math.floor(count / size);
  if (blocks < FEWEST_BLOCKS) return undefined;
  // Sums of all blocks before, so that means over any of them cost the same.
  const sums = new Float64Array(blocks + 1);
  let level = 0;
  for (let block = 0; block < blocks; block++) {
    let bar = 0;
    for (let row = from + block * size; row < from + (block + 1) * size; row++) bar += rows.bar[row]!;
    level += bar / size;
    sums[block + 1] = sums[block]! + even(outflowIndex(bar / size));
  }
  const blockMs = (size * (rows.timeMs[from + blocks * size - 1]! - rows.timeMs[from]!)) / (blocks * size - 1);
  const meanFrom = (block: number, many: number): number => (sums[block + many]! - sums[block]!) / many;
  const noise = rows.noiseBar * outflowIndex(level / blocks) ** 2;
  const wide = Math.max(NARROW_BLOCKS + 1, Math.round(WIDE_SHARE * blocks));
  const steps = [NARROW_BLOCKS, wide].flatMap((many) => {
    if (2 * many > blocks) return [];
    let loss = Number.NEGATIVE_INFINITY;
    for (let block = 0; block + 2 * many <= blocks; block++) {
      loss = Math.max(loss, meanFrom(block + many, many) - meanFrom(block, many));
    }
    return [{ loss, overMs: many * blockMs, noise: noise * Math.sqrt(2 / (many * size)) }];
  });
  const ends = Math.min(NARROW_BLOCKS, blocks >> 1);
  return {
    lengthMs: rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!,
    lost: meanFrom(blocks - ends, ends) - meanFrom(0, ends),
    lostMs: (blocks - ends) * blockMs,
    steps,
  };
}

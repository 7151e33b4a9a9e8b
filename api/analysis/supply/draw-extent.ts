import type { Books } from './books.ts';
import type { Edges } from './edge-levels.ts';

/** A hand takes up to so many rows at 1 Hz to open or close a tap; slower logs see it in one. */
const LONGEST_HAND_MS = 5000;
/** Drawn from as soon as the reading has left the idle level by this share of the step, and by what noise can't do. */
const LEFT_SHARE = 0.12;
const LEFT_DEVIATIONS = 3;
const LEFT_BAR = 0.008;

/** Rows [fromRow, toRow) in which water flows, the slow turns of the hand at both ends included. */
export interface DrawExtent {
  readonly fromRow: number;
  readonly toRow: number;
}

/**
 * Books begin and end where a step is half done; the draw itself begins where the reading leaves the level before it,
 * and ends where it reaches the level after it.
 * @param from first row that may belong to it
 */
export function drawExtent(
  { segment, fromRow, toRow }: Books,
  { beforeBar, afterBar }: Edges,
  timeMs: Float64Array,
  pressureBar: Float64Array,
  noiseBar: number,
  from: number,
  to: number,
): DrawExtent {
  let first = fromRow;
  let after = toRow;
  if (segment.kind !== 'from_block_start') {
    const idleBar = beforeBar[segment.open]!;
    const left = idleBar - leavingBar(idleBar - afterBar[segment.open]!, noiseBar);
    while (
      first - 1 >= from &&
      pressureBar[first - 1]! < left &&
      timeMs[fromRow]! - timeMs[first - 1]! <= LONGEST_HAND_MS
    )
      first--;
  }
  if (segment.kind === 'edge' || segment.kind === 'from_block_start') {
    const idleBar = afterBar[segment.close + segment.surgeEdges]!;
    const left = idleBar - leavingBar(idleBar - beforeBar[segment.close]!, noiseBar);
    while (after < to - 1 && pressureBar[after]! < left && timeMs[after]! - timeMs[toRow]! < LONGEST_HAND_MS) after++;
  }
  return { fromRow: first, toRow: after };
}

function leavingBar(stepBar: number, noiseBar: number): number {
  return Math.max(LEFT_SHARE * stepBar, LEFT_DEVIATIONS * noiseBar, LEFT_BAR);
}

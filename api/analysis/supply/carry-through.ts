import type { Books } from './books.ts';
import { LAW_SHARE } from './draw-courses.ts';
import type { DrawExtent } from './draw-extent.ts';
import { type EnclosingDraw, liftedBar } from './enclosing-draws.ts';
import type { OwnDraw } from './own-draw.ts';
import type { CellSums } from './standing-cells.ts';
import { fallRatio, type TapLaw } from './tap-law.ts';

/** Rows averaged to see the level at which a tapered end arrives. */
const ARRIVAL_ROWS = 6;

/**
 * Adds the rows of one draw to the cells as reading plus fall, and returns the draw. What the books were off by at the
 * closing edge is spread evenly over the draw, and half of it counts as uncertainty where it was added.
 * @param doubtBar2 variance of the fall over all accounts, by row from `doubtFrom` on
 * @param extent rows in which water flows: those of a hand's slow turn are part of the draw, and of no cell
 * @param within the long draw about this one, whose fall comes on top
 * @param isKnown whether a row was known to be drawn from: its reading was put there, and tells nothing
 */
export function carryThrough(
  books: Books,
  timeMs: Float64Array,
  pressureBar: Float64Array,
  blockTo: number,
  law: TapLaw,
  cells: CellSums,
  doubtBar2: Float32Array,
  doubtFrom: number,
  extent: DrawExtent = books,
  within?: EnclosingDraw,
  isKnown: (row: number) => boolean = () => false,
): OwnDraw {
  const { fromRow, toRow, residualBar, stretches, segment } = books;
  const startMs = timeMs[fromRow]!;
  const endMs = toRow < blockTo ? timeMs[toRow]! : timeMs[toRow - 1]!;
  const span = Math.max(1, endMs - startMs);
  // Where the flow tapers off, the level it arrives at tells what the books are off by when the last edge is past.
  const last = stretches.at(-1)!;
  const tapered = segment.kind === 'soft';
  const taperedOff = tapered ? last.fallBar - (arrivalLevel(pressureBar, last.toRow, blockTo) - last.atBar) : 0;
  const lastSpan = Math.max(1, timeMs[last.fromRow]! - startMs);
  let falls = 0;
  stretches.forEach((stretch, s) => {
    const tapers = segment.kind === 'soft' && s === stretches.length - 1;
    const standingAtStart = stretch.atBar + stretch.fallBar - (tapers ? taperedOff : 0);
    const arrival = tapers ? arrivalLevel(pressureBar, stretch.toRow, blockTo) : 0;
    const length = Math.max(1, stretch.toRow - stretch.fromRow);
    for (let i = stretch.fromRow; i < stretch.toRow; i++) {
      const p = pressureBar[i]!;
      const cell = cells.cellOf(timeMs[i]!);
      let doubt = doubtBar2[i - doubtFrom] ?? 0;
      let standing: number;
      let variance = stretch.varianceBar2;
      if (tapers) {
        standing = standingAtStart + ((arrival - standingAtStart) * (i - stretch.fromRow)) / length;
        variance += (0.03 * stretch.fallBar) ** 2;
      } else if (stretch.easedToBar !== undefined) {
        // Between the level before and the one that the eased flow leads to nothing tells more than a straight line.
        const atEnd = pressureBar[stretch.toRow - 1]! + stretch.easedToBar;
        standing = standingAtStart + ((atEnd - standingAtStart) * (i - stretch.fromRow)) / length;
        variance += (0.05 * stretch.fallBar) ** 2;
      } else {
        const ratio = fallRatio(stretch.atBar, p, law);
        const since = timeMs[i]! - startMs;
        const off = tapered ? (taperedOff * since) / lastSpan : (residualBar * since) / span;
        // Drawing can only lower the reading.
        standing = p + Math.max(0, stretch.fallBar * ratio - off);
        variance += (LAW_SHARE * stretch.fallBar * (ratio - 1)) ** 2 + (0.5 * off) ** 2;
      }
      if (within) {
        const lifted = liftedBar(within, standing, timeMs[i]!);
        standing = lifted.bar;
        variance += lifted.varianceBar2;
        doubt += lifted.doubtBar2;
      }
      falls += standing - p;
      if (isKnown(i)) cells.addHidden(cell);
      else cells.addCarried(cell, standing, variance, doubt, stretch.fallBar);
    }
  });
  const before = stretches[0]!.atBar + stretches[0]!.fallBar;
  const after = toRow < blockTo ? pressureBar[Math.min(blockTo - 1, extent.toRow)]! : Number.NaN;
  for (let i = extent.fromRow; i < fromRow; i++) falls += Math.max(0, before - pressureBar[i]!);
  for (let i = toRow; i < extent.toRow; i++) falls += Math.max(0, after - pressureBar[i]!);
  const rows = Math.max(1, extent.toRow - extent.fromRow);
  return {
    startMs: timeMs[extent.fromRow]!,
    endMs: extent.toRow < blockTo ? timeMs[extent.toRow]! : endMs,
    dropBar: falls / rows,
    whole: segment.kind === 'edge' || segment.kind === 'soft',
  };
}

function arrivalLevel(pressureBar: Float64Array, row: number, to: number): number {
  const end = Math.min(to, row + ARRIVAL_ROWS);
  if (end <= row) return pressureBar[to - 1]!;
  let sum = 0;
  for (let i = row; i < end; i++) sum += pressureBar[i]!;
  return sum / (end - row);
}

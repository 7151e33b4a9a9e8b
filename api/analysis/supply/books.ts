import { type DrawSegment, LAW_SHARE } from './draw-courses.ts';
import type { Edges } from './edge-levels.ts';
import { InnerLevels } from './inner-levels.ts';
import { fallRatio, type TapLaw } from './tap-law.ts';

/** One stretch of a draw between two of its edges: the fall at its start, and the running pressure it refers to. */
export interface BooksStretch {
  readonly fromRow: number;
  readonly toRow: number;
  readonly fallBar: number;
  readonly atBar: number;
  readonly varianceBar2: number;
  /** Fall at its end where the flow changed slowly within it; else the tap's law leads there. */
  readonly easedToBar?: number;
}

export interface Books {
  readonly fromRow: number;
  readonly toRow: number;
  /** First row at which the reading is the street's again: after the surge of the closed pipe. */
  readonly idleFromRow: number;
  readonly stretches: readonly BooksStretch[];
  /** What is left after the closing edge; spread over the draw, as it grew. Nought where no edge closes it. */
  readonly residualBar: number;
  /** How much the running pressure drifted within the draw, as logarithm of the fall's ratio. */
  readonly drift: number;
  readonly segment: DrawSegment;
}

/**
 * Keeps the books of a draw: the fall at each of its edges, carried between them by the tap's law. Forward from the
 * opening edge, backward from the closing one where the log began within it.
 */
export function keepBooks(
  edges: Edges,
  segment: DrawSegment,
  blockFrom: number,
  blockTo: number,
  law: TapLaw,
  timeMs: Float64Array,
): Books {
  const { row, beforeBar, afterBar, sdBar, count } = edges;
  const stretches: BooksStretch[] = [];
  let drift = 0;
  if (segment.kind === 'from_block_start') {
    let fall = afterBar[segment.close]! - beforeBar[segment.close]!;
    let variance = sdBar[segment.close]! ** 2;
    for (let k = segment.close; k >= 0; k--) {
      const fromRow = k > 0 ? row[k - 1]! : blockFrom;
      stretches.unshift({ fromRow, toRow: row[k]!, fallBar: fall, atBar: beforeBar[k]!, varianceBar2: variance });
      if (k === 0) break;
      fall = fall * fallRatio(beforeBar[k]!, afterBar[k - 1]!, law) + afterBar[k - 1]! - beforeBar[k - 1]!;
      variance += sdBar[k - 1]! ** 2;
    }
    const toRow = row[segment.close]!;
    return { fromRow: blockFrom, toRow, idleFromRow: toRow, stretches, residualBar: 0, drift, segment };
  }
  let fall = beforeBar[segment.open]! - afterBar[segment.open]!;
  let variance = sdBar[segment.open]! ** 2;
  let residualBar = 0;
  let levels = new InnerLevels(beforeBar[segment.open]!, timeMs[row[segment.open]!]!);
  const lastEdge = segment.kind === 'soft' ? segment.taperEdge : segment.close;
  for (let k = segment.open; k <= lastEdge; k++) {
    const closes = segment.kind === 'edge' && k === segment.close;
    if (k > segment.open) {
      const ratio = fallRatio(afterBar[k - 1]!, beforeBar[k]!, law);
      drift += Math.abs(Math.log(ratio));
      variance = variance * ratio * ratio + (LAW_SHARE * fall * (ratio - 1)) ** 2 + sdBar[k]! ** 2;
      const step = afterBar[closes ? k + segment.surgeEdges : k]! - beforeBar[k]!;
      const eased = levels.easedFall(beforeBar[k]!, fall * ratio, timeMs[row[k]!]!, step);
      if (eased !== undefined) stretches[stretches.length - 1] = { ...stretches.at(-1)!, easedToBar: eased };
      const fallBefore = eased ?? fall * ratio;
      if (k === segment.zeroStepEdge) {
        // What was drawn did not change; the reading did.
        fall = fallBefore;
        levels = levels.shiftedBy(step);
      } else {
        fall = fallBefore - step;
        levels.pass(beforeBar[k]!, fallBefore, fall, timeMs[row[k]!]!);
      }
      if (closes) residualBar = fall;
    }
    if (closes) break;
    const toRow =
      k < lastEdge
        ? row[k + 1]!
        : segment.kind === 'soft'
          ? segment.softEndRow
          : k + 1 < count && segment.kind !== 'to_block_end'
            ? row[k + 1]!
            : blockTo;
    stretches.push({ fromRow: row[k]!, toRow, fallBar: fall, atBar: afterBar[k]!, varianceBar2: variance });
  }
  const fromRow = stretches[0]!.fromRow;
  const toRow = stretches.at(-1)!.toRow;
  const idleFromRow = segment.surgeEdges > 0 ? row[segment.close + segment.surgeEdges]! : toRow;
  return { fromRow, toRow, idleFromRow, stretches, residualBar, drift, segment };
}

import type { Books } from './books.ts';
import { edgeAfter } from './draw-courses.ts';
import type { Edges } from './edge-levels.ts';
import type { EnclosingDraw } from './enclosing-draws.ts';

/** A sharp step that no draw explains: the sensor's, or a valve of the supplier. */
export interface StreetEdge {
  readonly atMs: number;
  readonly beforeBar: number;
  readonly afterBar: number;
  readonly sdBar: number;
  /** Between the two rows at the edge: how much of the step happened within one interval. */
  readonly jumpBar: number;
}

/** The edges before a row that neither a draw nor a long draw about others explains. */
export function streetEdgesOf(
  edges: Edges,
  books: readonly Books[],
  enclosing: readonly EnclosingDraw[],
  timeMs: Float64Array,
  pressureBar: Float64Array,
  endRow: number,
): StreetEdge[] {
  const found: StreetEdge[] = [];
  let b = 0;
  for (let k = 0; k < edges.count && edges.row[k]! < endRow; k++) {
    while (b < books.length && edgeAfter(books[b]!.segment) <= k) b++;
    const segment = books[b]?.segment;
    if (segment && k >= segment.open && k !== segment.zeroStepEdge) continue;
    if (enclosing.some(({ open, close }) => k === open || k === close)) continue;
    found.push({
      atMs: timeMs[edges.row[k]!]!,
      beforeBar: edges.beforeBar[k]!,
      afterBar: edges.afterBar[k]!,
      sdBar: edges.sdBar[k]!,
      jumpBar: pressureBar[edges.row[k]!]! - pressureBar[edges.row[k]! - 1]!,
    });
  }
  return found;
}

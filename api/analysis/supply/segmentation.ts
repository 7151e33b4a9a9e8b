import { type DrawSegment, drawsFrom, drawsFromBlockStart, edgeAfter, type SegmentationInput } from './draw-courses.ts';
import { type EnclosingDraw, EnclosingDraws } from './enclosing-draws.ts';
import { continuesMovement } from './street-costs.ts';

/** A draw that costs so much more than leaving its edges to the street is less than a millionth of all accounts. */
const MOST_OVER_STREET = 40;

/** Every draw that was weighed, in columns, by the edge it opens with: ascending. */
export interface WeighedDraws {
  /** First edge, −1 where the block began within it; and the first edge after it. */
  readonly open: number[];
  readonly after: number[];
  readonly cost: number[];
  /** Last edge after which the whole fall is still drawn; the row where it has tapered off, −1 where an edge ends it. */
  readonly lastFull: number[];
  readonly softEndRow: number[];
  /** By the opening edge: the fall after it, and after each edge on. */
  readonly fallsBar: (readonly number[])[];
}

export interface Segmentation {
  readonly draws: DrawSegment[];
  /** Long draws about others: those inside are among `draws`. */
  readonly enclosing: EnclosingDraw[];
  readonly weighed: WeighedDraws;
}

/** A draw that an account may hold, and what it costs. */
export interface WeighedDraw {
  readonly segment: DrawSegment;
  readonly after: number;
  readonly cost: number;
}

/** Of the accounts up to an edge the cheapest, and by which step it came there. */
interface Reached {
  cost: number;
  from: number;
  draw: DrawSegment | undefined;
  about: number;
}

/**
 * The cheapest account of a block's sharp edges, by dynamic programming over them: each edge is the street's (a cost
 * that grows with its size), or belongs to a draw that opens with a fall, closes with a rise and whose books balance;
 * and a long draw may go on about others, which are accounted for by the same steps within it.
 * Cost: edges × edges in the longest draw; memory: a few numbers an edge.
 */
export function segmentDraws(input: SegmentationInput): Segmentation {
  const { edges } = input;
  const n = edges.count;
  const street = input.streetCost;
  const { byEdge, weighed } = weighDraws(input);
  const enclosing = new EnclosingDraws(input, byEdge);
  const reached: Reached[] = Array.from({ length: n + 1 }, () => ({
    cost: Number.POSITIVE_INFINITY,
    from: -1,
    draw: undefined,
    about: -1,
  }));
  reached[0]!.cost = 0;
  const relax = (from: number, to: number, cost: number, draw: DrawSegment | undefined, about: number): void => {
    if (cost < reached[to]!.cost) reached[to] = { cost, from, draw, about };
  };
  for (let i = 0; i < n; i++) {
    const here = reached[i]!.cost;
    relax(i, i + 1, here + street[i]!, undefined, -1);
    for (const { segment, after, cost } of byEdge[i]!) relax(i, after, here + cost, segment, -1);
    enclosing.from(i, (close, cost) => relax(i, close + 1, here + cost, undefined, close));
  }
  const draws: DrawSegment[] = [];
  const about: EnclosingDraw[] = [];
  for (let at = n; at > 0; at = reached[at]!.from) {
    const { from, draw, about: close } = reached[at]!;
    if (draw) draws.push(draw);
    if (close < 0) continue;
    about.push(enclosing.draw(from, close));
    draws.push(...enclosing.inside(from, close).reverse());
  }
  return { draws: draws.reverse(), enclosing: about.reverse(), weighed };
}

/** Every draw that an account may hold, by the edge it opens with: nought for one that the block began within. */
function weighDraws(input: SegmentationInput): {
  readonly byEdge: readonly (readonly WeighedDraw[])[];
  readonly weighed: WeighedDraws;
} {
  const { count, beforeBar, afterBar } = input.edges;
  const street = input.streetCost;
  const byEdge: WeighedDraw[][] = Array.from({ length: count }, () => []);
  const weighed: WeighedDraws = { open: [], after: [], cost: [], lastFull: [], softEndRow: [], fallsBar: [] };
  const streetUpTo = new Float64Array(count + 1);
  for (let k = 0; k < count; k++) streetUpTo[k + 1] = streetUpTo[k]! + street[k]!;
  const weigh = (segment: DrawSegment, cost: number, lastFull: number): void => {
    const at = Math.max(0, segment.open);
    const after = edgeAfter(segment);
    if (cost > streetUpTo[after]! - streetUpTo[at]! + MOST_OVER_STREET) return;
    if (segment.kind === 'edge' && continuesMovement(input.edges, segment.close + 1)) return;
    byEdge[at]!.push({ segment, after, cost });
    // Where the zero stepped within a draw, its falls are not those of the others that open with it.
    if (segment.zeroStepEdge >= 0) return;
    weighed.open.push(segment.open);
    weighed.after.push(after);
    weighed.cost.push(cost);
    weighed.lastFull.push(lastFull);
    weighed.softEndRow.push(segment.softEndRow);
  };
  if (input.mayBeginDrawn)
    drawsFromBlockStart(input, (close, cost) => {
      const ends = { kind: 'from_block_start', taperEdge: close, softEndRow: -1, zeroStepEdge: -1 } as const;
      weigh({ open: -1, close, surgeEdges: 0, ...ends }, cost, close - 1);
    });
  for (let i = 0; i < count; i++) {
    const fallsBar: number[] = [];
    weighed.fallsBar.push(fallsBar);
    // A movement over some rows is one hand's or the street's as a whole: no draw opens or closes in its midst.
    if (afterBar[i]! >= beforeBar[i]! || continuesMovement(input.edges, i)) continue;
    drawsFrom(
      input,
      i,
      (end, cost) => {
        const lastFull = end.kind === 'edge' ? end.close - 1 : end.taperEdge - (end.kind === 'soft' ? 1 : 0);
        weigh({ open: i, ...end }, cost, lastFull);
      },
      fallsBar,
    );
  }
  return { byEdge, weighed };
}

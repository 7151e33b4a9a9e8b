import { DRAW_FEE, type DrawSegment, edgeAfter, type SegmentationInput } from './draw-courses.ts';
import type { EnclosingDraw } from './enclosing-draws.ts';
import type { WeighedDraws } from './segmentation.ts';
import { COST_PER_NAT } from './street-costs.ts';

/** Fee of an edge whose partner was missed, as a tap was opened or shut slowly: two draws'. */
const LONE_EDGE_FEE = 2 * DRAW_FEE;
/** How long before or after its one edge such a draw may have run: one time constant (taps and cisterns), and the most. */
const LONE_DRAW_MS = 120_000;
const LONGEST_LONE_DRAW_MS = 900_000;
/** Accounts of a lesser share are left out. */
const LEAST_SHARE = 1e-6;
const LEAST_LONE_SHARE = 1e-3;
/** A millibar, squared: less is left out. */
const LEAST_VARIANCE_BAR2 = 1e-6;

type Rows = Pick<SegmentationInput, 'edges' | 'from' | 'to' | 'timeMs' | 'streetCost' | 'lasting'>;

/**
 * How unsure the fall of a chosen account is, row by row, as variance: of all accounts of the edges, each weighed by its
 * cost (sums forward and backward over the same steps that the cheapest one was sought by), how far their falls lie
 * from the chosen one's; and what an edge left to the street leaves open. Cost: as many steps as draws were weighed.
 */
export function accountDoubt(
  input: Rows,
  chosen: readonly DrawSegment[],
  enclosing: readonly EnclosingDraw[],
  weighed: WeighedDraws,
): Float32Array {
  const { edges, from, to, timeMs } = input;
  const { count, row } = edges;
  const street = input.streetCost;
  const shares = sharesOf(input, weighed);
  const size = to - from + 1;
  // What begins at a row less what ends there: mean and mean square of the fall over all accounts, and the chosen one's.
  const mean = new Float64Array(size);
  const square = new Float64Array(size);
  const own = new Float64Array(size);
  const rowOf = (edge: number) => (edge < count ? row[edge]! : to) - from;
  const put = (column: Float64Array, a: number, b: number, value: number): void => {
    column[a]! += value;
    column[b]! -= value;
  };
  const alive = new Float64Array(count + 1);
  for (let o = 0; o < weighed.open.length; ) {
    const open = weighed.open[o]!;
    const first = o;
    for (; o < weighed.open.length && weighed.open[o] === open; o++);
    if (open < 0) continue;
    const falls = weighed.fallsBar[open]!;
    let most = open - 1;
    for (let k = first; k < o; k++) {
      const share = shares[k]!;
      if (share < LEAST_SHARE) continue;
      const lastFull = weighed.lastFull[k]!;
      if (lastFull >= open) alive[lastFull]! += share;
      most = Math.max(most, lastFull);
      if (weighed.softEndRow[k]! < 0) continue;
      const fall = falls[lastFull + 1 - open]! / 2;
      const until = weighed.softEndRow[k]! - from;
      put(mean, rowOf(lastFull + 1), until, share * fall);
      put(square, rowOf(lastFull + 1), until, share * fall * fall);
    }
    let drawn = 0;
    for (let j = most; j >= open; j--) {
      drawn += alive[j]!;
      alive[j] = 0;
      const fall = Math.max(0, falls[j - open]!);
      put(mean, rowOf(j), rowOf(j + 1), drawn * fall);
      put(square, rowOf(j), rowOf(j + 1), drawn * fall * fall);
    }
  }
  const settled = new Uint8Array(size);
  const begunDrawn = { toRow: 0, variance: 0 };
  for (const { open, close, kind, taperEdge, softEndRow, zeroStepEdge } of chosen) {
    if (open < 0) {
      // Of a draw that was open when the block began only the closing edge is known: it may have been the street's.
      const share = shares.reduce(
        (sum, of, k) => sum + (weighed.open[k]! < 0 && weighed.after[k] === close + 1 ? of : 0),
        0,
      );
      const fall = edges.afterBar[close]! - edges.beforeBar[close]!;
      begunDrawn.toRow = rowOf(close);
      begunDrawn.variance = Math.max(0, 1 - share) * fall * fall;
    }
    if (open < 0 || zeroStepEdge >= 0) {
      settled.fill(1, open < 0 ? 0 : rowOf(open), kind === 'to_block_end' ? to - from : rowOf(close));
      continue;
    }
    const falls = weighed.fallsBar[open]!;
    const end = kind === 'edge' ? close : kind === 'soft' ? taperEdge : count;
    for (let j = open; j < end; j++) put(own, rowOf(j), rowOf(j + 1), Math.max(0, falls[j - open]!));
    if (kind === 'soft') put(own, rowOf(taperEdge), softEndRow - from, falls[taperEdge - open]! / 2);
  }
  const variance = new Float32Array(to - from);
  let m = 0;
  let s = 0;
  let c = 0;
  for (let i = 0; i < to - from; i++) {
    m += mean[i]!;
    s += square[i]!;
    c += own[i]!;
    if (settled[i] === 0) variance[i] = Math.max(0, s - 2 * m * c + c * c);
    else if (i < begunDrawn.toRow) variance[i] = begunDrawn.variance;
  }
  addLoneEdges(input, chosen, variance);
  return variance;

  function addLoneEdges(rows: Rows, draws: readonly DrawSegment[], into: Float32Array): void {
    let d = 0;
    for (let k = 0; k < count; k++) {
      while (d < draws.length && edgeAfter(draws[d]!) <= k) d++;
      if ((d < draws.length && draws[d]!.open <= k) || rows.lasting[k] === 1) continue;
      if (enclosing.some(({ open, close }) => k === open || k === close)) continue;
      const step = edges.afterBar[k]! - edges.beforeBar[k]!;
      const share = 1 / (1 + Math.exp((LONE_EDGE_FEE - street[k]!) / COST_PER_NAT));
      if (share < LEAST_LONE_SHARE) continue;
      const reachMs = LONE_DRAW_MS * Math.log((share * step * step) / LEAST_VARIANCE_BAR2);
      const side = step < 0 ? 1 : -1;
      for (let i = step < 0 ? row[k]! : row[k]! - 1; i >= from && i < to; i += side) {
        const away = Math.abs(timeMs[i]! - timeMs[row[k]!]!);
        if (away > Math.min(reachMs, LONGEST_LONE_DRAW_MS)) break;
        into[i - from]! += share * step * step * Math.exp(-away / LONE_DRAW_MS);
      }
    }
  }
}

/** Of all accounts, weighed by their costs, the share of those with each draw. */
function sharesOf(input: Rows, { open, after, cost }: WeighedDraws): Float64Array {
  const n = input.edges.count;
  const street = input.streetCost;
  const forward = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  const backward = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  const both = (a: number, b: number): number => {
    const least = Math.min(a, b);
    if (least === Number.POSITIVE_INFINITY) return least;
    return least - COST_PER_NAT * Math.log1p(Math.exp(-Math.abs(a - b) / COST_PER_NAT));
  };
  forward[0] = 0;
  backward[n] = 0;
  let o = 0;
  for (let i = 0; i < n; i++) {
    for (; o < open.length && Math.max(0, open[o]!) === i; o++)
      forward[after[o]!] = both(forward[after[o]!]!, forward[i]! + cost[o]!);
    forward[i + 1] = both(forward[i + 1]!, forward[i]! + street[i]!);
  }
  o = open.length - 1;
  for (let i = n - 1; i >= 0; i--) {
    backward[i] = both(backward[i]!, backward[i + 1]! + street[i]!);
    for (; o >= 0 && Math.max(0, open[o]!) === i; o--)
      backward[i] = both(backward[i]!, backward[after[o]!]! + cost[o]!);
  }
  const all = forward[n]!;
  return Float64Array.from(open, (at, k) =>
    Math.exp((all - forward[Math.max(0, at)]! - cost[k]! - backward[after[k]!]!) / COST_PER_NAT),
  );
}

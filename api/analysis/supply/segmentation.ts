import { InnerLevels, LONGEST_SLOW_CHANGE_MS } from './inner-levels.ts';
import { type StreetEdges, streetEdgeCost, streetMoveCost } from './street-costs.ts';
import { fallRatio, type TapLaw } from './tap-law.ts';
import { taperedEnds } from './tapered-end.ts';

/** A stretch in a draw: edges [open, close] of the block; −1 and `count` where the block begins or ends within it. */
export interface DrawSegment {
  readonly open: number;
  /** Last edge that belongs to the draw. */
  readonly close: number;
  /** `edge`: closes with edge `close`; `soft`: the flow tapers off after `taperEdge`, up to `softEndRow`. */
  readonly kind: 'edge' | 'soft' | 'from_block_start' | 'to_block_end';
  /** The edge after which the flow tapers off; `close` unless bends of the taper pass for edges. */
  readonly taperEdge: number;
  readonly softEndRow: number;
  /** Edge within the draw at which the sensor's zero stepped; −1 where it didn't. */
  readonly zeroStepEdge: number;
}

/** A draw's last edge but for how it opened. */
type End = Omit<DrawSegment, 'open'>;

/*
 * Costs are half squared deviations, as in a likelihood. A draw must explain its two edges better than the street can.
 */
/** Fee of a draw: about 2·ln(rows of a week), so that noise yields few draws in a week. */
export const DRAW_FEE = 12;
/** Fee of each further edge within a draw: nearly a draw's, so that a draw hides no other. */
const INNER_EDGE_FEE = 9;
/** Long draws are rarer: this fee for each e-fold of their length beyond two minutes. */
const LENGTH_FEE = 4;
const LENGTH_MS = 120_000;
/** Extra fee where a draw tapers off without a closing edge, or the log begins or ends within it. */
const SOFT_END_FEE = 4;
const CUT_FEE = 14;
/** Fee of a bend within a taper that passes for an edge. */
const BEND_FEE = 3;
/** A tapering fall may be off by this share: hands and valves change flows slowly before it as well. */
const TAPER_SHARE = 0.15;
/** Further edges than this before a taper are not looked through. */
const MOST_EDGES_BEFORE_TAPER = 8;
/**
 * Fee of a stretch within a draw that rests at the idle level: more than two draws cost. The less of a fall is left and
 * the longer it stays, the more of the fee: a hand that shuts a tap rests for some seconds.
 */
const REST_FEE = 26;
const REST_MS = 10_000;
const REST_SHARE = 0.9;
const REST_DEVIATIONS = 2.5;
/** What is eased to less than this share of the fall rests: a taper leaves as much. */
const EASED_SHARE = 0.1;
/** Resting: more than half of the fall would have to be made up by a street that happened to rise. */
const REST_LEVEL_SHARE = 0.5;
/** Books may be off by this share of the fall: outlets differ in height and law. */
export const BOOKS_SHARE = 0.03;
export const BOOKS_BAR = 0.006;
/** Share of a drift's effect on the fall that the law may get wrong. */
export const LAW_SHARE = 0.15;
/**
 * Books that don't balance are forgiven for this fee where the reading comes back to the level before the draw: a float
 * valve or a hand at the tap changed the flow slowly. How close to that level, and how much it may move meanwhile.
 */
const SLOW_CHANGE_FEE = 4;
/** Fee of such a change in the middle of a draw. */
const EASED_FEE = 7;
const MOST_SLOW_SHARE = 0.6;
const LEVEL_BAR = 0.004;
const LEVEL_BAR_PER_S = 1e-5;
/** Longest draw: a pool filling for hours. */
export const LONGEST_DRAW_MS = 5 * 3_600_000;
const MOST_EDGES_IN_A_DRAW = 160;

export interface SegmentationInput extends StreetEdges {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly from: number;
  readonly to: number;
  /** False where it is known that nobody drew at `from`. */
  readonly mayBeginDrawn: boolean;
  /** Rows averaged to see a tapered end. */
  readonly levelRows: number;
  /** Rows that a hand's turn at an edge may take. */
  readonly turnRows: number;
  /** Least fall that counts as drawing. */
  readonly leastFallBar: number;
  readonly law: TapLaw;
}

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
  readonly weighed: WeighedDraws;
}

/**
 * The cheapest account of a block's sharp edges, by dynamic programming over them: each edge is the street's (a cost
 * that grows with its size), or belongs to a draw that opens with a fall, closes with a rise and whose books balance.
 * Cost: edges × edges in the longest draw; memory: a few numbers an edge.
 */
export function segmentDraws(input: SegmentationInput): Segmentation {
  const { edges } = input;
  const n = edges.count;
  const best = new Float64Array(n + 1).fill(Number.POSITIVE_INFINITY);
  const chosen: (DrawSegment | undefined)[] = new Array(n + 1);
  const previous = new Int32Array(n + 1);
  const weighed: WeighedDraws = { open: [], after: [], cost: [], lastFull: [], softEndRow: [], fallsBar: [] };
  best[0] = 0;
  const streetUpTo = new Float64Array(n + 1);
  for (let k = 0; k < n; k++) streetUpTo[k + 1] = streetUpTo[k]! + streetEdgeCost(input, k);
  const weigh = (open: number, after: number, cost: number, lastFull: number, softEndRow: number): void => {
    if (cost > streetUpTo[after]! - streetUpTo[Math.max(0, open)]! + MOST_OVER_STREET) return;
    weighed.open.push(open);
    weighed.after.push(after);
    weighed.cost.push(cost);
    weighed.lastFull.push(lastFull);
    weighed.softEndRow.push(softEndRow);
  };
  const relax = (at: number, to: number, cost: number, segment: DrawSegment | undefined): void => {
    if (cost >= best[to]!) return;
    best[to] = cost;
    chosen[to] = segment;
    previous[to] = at;
  };
  for (let i = 0; i <= n; i++) {
    const here = best[i]!;
    if (i === 0 && input.mayBeginDrawn)
      drawsFromBlockStart(input, (close, cost) => {
        weigh(-1, close + 1, cost, close - 1, -1);
        relax(0, close + 1, here + cost, {
          open: -1,
          close,
          kind: 'from_block_start',
          taperEdge: close,
          softEndRow: -1,
          zeroStepEdge: -1,
        });
      });
    if (i === n) break;
    relax(i, i + 1, here + streetEdgeCost(input, i), undefined);
    const fallsBar: number[] = [];
    weighed.fallsBar.push(fallsBar);
    if (edges.afterBar[i]! < edges.beforeBar[i]!) {
      const offer: Offer = (end, cost) => {
        const lastFull = end.kind === 'edge' ? end.close - 1 : end.taperEdge - (end.kind === 'soft' ? 1 : 0);
        if (end.zeroStepEdge < 0) weigh(i, end.close + 1, cost, lastFull, end.softEndRow);
        relax(i, end.close + 1, here + cost, { open: i, ...end });
      };
      drawsFrom(input, i, offer, fallsBar);
    }
  }
  const draws: DrawSegment[] = [];
  for (let at = n; at > 0; at = previous[at]!) {
    const segment = chosen[at];
    if (segment) draws.push(segment);
  }
  return { draws: draws.reverse(), weighed };
}

export function lengthFee(lengthMs: number): number {
  return LENGTH_FEE * Math.log1p(lengthMs / LENGTH_MS);
}

type Offer = (end: End, cost: number) => void;

/** How far an account of one draw has come: after `edge`. */
interface Course {
  readonly edge: number;
  readonly idleBar: number;
  readonly fallBar: number;
  readonly mostFallBar: number;
  readonly varianceBar2: number;
  readonly fees: number;
  readonly levels: InnerLevels;
  readonly zeroStepEdge: number;
}

function drawsFrom(input: SegmentationInput, open: number, offer: Offer, fallsBar: number[]): void {
  const { row, beforeBar, afterBar, sdBar } = input.edges;
  const idleBar = beforeBar[open]!;
  const fallBar = idleBar - afterBar[open]!;
  const courses: Course[] = [
    {
      edge: open,
      idleBar,
      fallBar,
      mostFallBar: fallBar,
      varianceBar2: sdBar[open]! ** 2,
      fees: DRAW_FEE,
      levels: new InnerLevels(idleBar, input.timeMs[row[open]!]!),
      zeroStepEdge: -1,
    },
  ];
  for (let course = courses.pop(); course; course = courses.pop())
    follow(input, open, course, offer, (other) => courses.push(other), fallsBar);
}

/** Follows a draw edge by edge and offers its ends; where the zero may have stepped, another course forks off. */
function follow(
  input: SegmentationInput,
  open: number,
  course: Course,
  offer: Offer,
  fork: (course: Course) => void,
  fallsBar: number[],
): void {
  const { edges, timeMs, to, law, leastFallBar } = input;
  const { count, row, beforeBar, afterBar, sdBar } = edges;
  const startMs = timeMs[row[open]!]!;
  const openFall = beforeBar[open]! - afterBar[open]!;
  const { idleBar, levels, zeroStepEdge } = course;
  let { fallBar: fall, mostFallBar: mostFall, varianceBar2: variance, fees } = course;
  for (let j = course.edge; ; j++) {
    if (zeroStepEdge < 0) fallsBar.push(fall);
    // The stretch after edge j, up to the next edge or the block's end.
    const last = j + 1 >= count;
    const tapers = j - open <= MOST_EDGES_BEFORE_TAPER ? taperedEnds(input, j, idleBar, fall, sdBar[open]!) : [];
    for (const taper of tapers) {
      const softMs = timeMs[taper.row]! - startMs;
      const bends = BEND_FEE * (taper.lastEdge - j);
      const sinceEdgeMs = timeMs[taper.row]! - timeMs[row[j]!]!;
      // What the street would have to have done since the last edge: a taper gives back the fall, no more and no less.
      const beyondFall = taper.arrivedBar - afterBar[j]! - fall;
      const moved =
        streetMoveCost(taper.arrivedBar - idleBar, softMs, sdBar[open]!) +
        streetMoveCost(beyondFall, sinceEdgeMs, Math.hypot(Math.sqrt(variance), TAPER_SHARE * fall));
      if (softMs < LONGEST_SLOW_CHANGE_MS)
        offer(
          { close: taper.lastEdge, kind: 'soft', softEndRow: taper.row, taperEdge: j, zeroStepEdge },
          fees + SOFT_END_FEE + bends + moved + lengthFee(softMs),
        );
    }
    if (last) {
      const untilEndMs = timeMs[to - 1]! - startMs;
      const drawsOn = fall >= Math.max(REST_SHARE * leastFallBar, REST_DEVIATIONS * Math.sqrt(variance));
      if (drawsOn && untilEndMs < LONGEST_DRAW_MS)
        offer(
          { close: count - 1, kind: 'to_block_end', softEndRow: -1, taperEdge: count - 1, zeroStepEdge },
          fees + CUT_FEE + lengthFee(untilEndMs),
        );
      return;
    }
    const next = j + 1;
    const afterMs = timeMs[row[next]!]! - startMs;
    if (afterMs > LONGEST_DRAW_MS || next - open > MOST_EDGES_IN_A_DRAW) return;
    const ratio = fallRatio(afterBar[j]!, beforeBar[next]!, law);
    let before = fall * ratio;
    variance = variance * ratio * ratio + (LAW_SHARE * fall * (ratio - 1)) ** 2;
    const leastSeen = Math.max(REST_SHARE * leastFallBar, REST_DEVIATIONS * Math.sqrt(variance));
    const step = afterBar[next]! - beforeBar[next]!;
    const eased = levels.easedFall(beforeBar[next]!, before, timeMs[row[next]!]!, step);
    const isEased = eased !== undefined && eased >= Math.max(leastSeen, EASED_SHARE * before);
    if (isEased) {
      before = eased;
      fees += EASED_FEE;
    }
    const startsAbove = !isEased && afterBar[j]! + REST_LEVEL_SHARE * fall > idleBar;
    const endsAbove = beforeBar[next]! + REST_LEVEL_SHARE * before > idleBar;
    const seen = startsAbove || endsAbove ? 0 : Math.max(0, Math.min(1, Math.min(fall, before) / leastSeen));
    const restMs = timeMs[row[next]!]! - timeMs[row[j]!]!;
    const restFee = REST_FEE * (1 - seen) * Math.min(1, restMs / REST_MS);
    // A draw too small to be reported is one nevertheless, and must not be cheaper inside another.
    const isSmallDraw = j === open && fall >= REST_DEVIATIONS * Math.sqrt(variance) && !endsAbove;
    fees += restFee;
    if (before < -3 * Math.sqrt(variance)) return;
    if (input.lasting[next] === 1 && zeroStepEdge < 0) {
      fork({
        edge: next,
        idleBar: idleBar + step,
        fallBar: before,
        mostFallBar: mostFall,
        varianceBar2: variance + sdBar[next]! ** 2,
        fees: fees + streetEdgeCost(input, next),
        levels: levels.shiftedBy(step),
        zeroStepEdge: next,
      });
    }
    const rest = before - step;
    if (step > 0) {
      const scale = Math.max(openFall, step);
      const allowed = variance + sdBar[next]! ** 2 + BOOKS_BAR ** 2 + (BOOKS_SHARE * scale) ** 2;
      const moved = afterBar[next]! - idleBar;
      const books = (0.5 * rest * rest) / allowed;
      const streetCost = streetMoveCost(moved, afterMs, sdBar[open]!);
      const back = LEVEL_BAR + LEVEL_BAR_PER_S * (afterMs / 1000) + 1.5 * sdBar[open]!;
      const level = SLOW_CHANGE_FEE + (0.5 * moved * moved) / (back * back);
      const slow = afterMs < LONGEST_SLOW_CHANGE_MS && Math.abs(rest) < MOST_SLOW_SHARE * Math.max(scale, mostFall);
      const off = slow ? Math.min(books + streetCost, level) : books + streetCost;
      const forgiven = isSmallDraw ? restFee : 0;
      offer(
        { close: next, kind: 'edge', softEndRow: -1, taperEdge: next, zeroStepEdge },
        fees - forgiven + off + lengthFee(afterMs),
      );
    }
    levels.pass(beforeBar[next]!, before, rest, timeMs[row[next]!]!);
    fall = rest;
    mostFall = Math.max(mostFall, fall);
    variance += sdBar[next]! ** 2;
    fees += INNER_EDGE_FEE;
    if (fall < -4 * Math.sqrt(variance) - 0.05) return;
  }
}

/** Draws that were under way when the block began: the closing edge tells what the fall was, backwards. */
function drawsFromBlockStart(input: SegmentationInput, offer: (close: number, cost: number) => void): void {
  const { edges, timeMs, from } = input;
  for (let close = 0; close < Math.min(edges.count, 12); close++) {
    if (timeMs[edges.row[close]!]! - timeMs[from]! > LONGEST_DRAW_MS / 4) return;
    let fall = edges.afterBar[close]! - edges.beforeBar[close]!;
    if (fall <= 0) continue;
    let least = fall;
    for (let k = close - 1; k >= 0; k--) {
      fall = fall * fallRatio(edges.beforeBar[k + 1]!, edges.afterBar[k]!, input.law);
      fall += edges.afterBar[k]! - edges.beforeBar[k]!;
      least = Math.min(least, fall);
    }
    if (least > 0.4 * input.leastFallBar) offer(close, DRAW_FEE + CUT_FEE + INNER_EDGE_FEE * close);
  }
}

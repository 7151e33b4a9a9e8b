import { InnerLevels, LONGEST_SLOW_CHANGE_MS } from './inner-levels.ts';
import { type StreetEdges, streetMoveCost } from './street-costs.ts';
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
  /** Edges after `close` that are the surge of the closed pipe, which overshoots and comes back within seconds. */
  readonly surgeEdges: number;
}

/** The first edge after a draw and its surge. */
export function edgeAfter({ close, surgeEdges }: Pick<DrawSegment, 'close' | 'surgeEdges'>): number {
  return close + 1 + surgeEdges;
}

/** A draw's last edge but for how it opened. */
export type End = Omit<DrawSegment, 'open'>;

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
/**
 * A pipe that is shut off overshoots and comes back: so long after the closing edge at most, by so many edges, each
 * smaller than this share of it. An edge of a surge costs as a bend does: it is told by the books, which the closing
 * edge balances only together with it.
 */
const LONGEST_SURGE_MS = 6000;
const MOST_SURGE_EDGES = 2;
const MOST_SURGE_SHARE = 0.5;
const SURGE_FEE = 3;
/**
 * What the street would have to give with the draw's fall added may lie so far above all readings of the window: a draw
 * that asks for more is none, and the street fell.
 */
const ABOVE_READINGS_BAR = 0.05;
const ABOVE_READINGS_SHARE = 0.05;
/**
 * A tap and its pipe share the pressure at any supply alike: what would leave a sixth of it or less, by more than a sensor's
 * zero may be off, is no household's but a burst's or a valve's in the street.
 */
const MOST_FALL_RATIO = 5;
const ZERO_OFF_BAR = 0.2;
/** Books of a draw with many edges may be off by this share of the fall before they say so. */
const OFF_SHARE = 0.25;
const LEVEL_BAR = 0.004;
const LEVEL_BAR_PER_S = 1e-5;
/** Longest draw: a pool filling for hours. */
export const LONGEST_DRAW_MS = 5 * 3_600_000;
const MOST_EDGES_IN_A_DRAW = 160;

export interface SegmentationInput extends StreetEdges {
  /** Cost of each edge as the street's. */
  readonly streetCost: Float64Array;
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
  /** The window's highest reading: standing pressure lies little above it. */
  readonly highestBar: number;
  readonly law: TapLaw;
}

/** What the street may give at most, told from the window's readings. */
export function mostStandingBar({ highestBar }: Pick<SegmentationInput, 'highestBar'>): number {
  return (1 + ABOVE_READINGS_SHARE) * highestBar + ABOVE_READINGS_BAR;
}

/** Whether no household takes a fall so great at a running pressure so low. */
export function takesTooMuch(fallBar: number, runningBar: number): boolean {
  return fallBar > MOST_FALL_RATIO * runningBar + ZERO_OFF_BAR;
}

export function lengthFee(lengthMs: number): number {
  return LENGTH_FEE * Math.log1p(lengthMs / LENGTH_MS);
}

/** Takes a draw's end and what the draw then costs. */
export type Offer = (end: End, cost: number) => void;

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

/** Offers every end of a draw that opens with an edge, and tells the fall after that edge and after each one on. */
export function drawsFrom(input: SegmentationInput, open: number, offer: Offer, fallsBar: number[]): void {
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
    if (takesTooMuch(fall, afterBar[j]!)) return;
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
          { close: taper.lastEdge, kind: 'soft', softEndRow: taper.row, taperEdge: j, zeroStepEdge, surgeEdges: 0 },
          fees + SOFT_END_FEE + bends + moved + lengthFee(softMs),
        );
    }
    if (last) {
      const untilEndMs = timeMs[to - 1]! - startMs;
      const drawsOn = fall >= Math.max(REST_SHARE * leastFallBar, REST_DEVIATIONS * Math.sqrt(variance));
      if (drawsOn && untilEndMs < LONGEST_DRAW_MS)
        offer(
          { close: count - 1, kind: 'to_block_end', softEndRow: -1, taperEdge: count - 1, zeroStepEdge, surgeEdges: 0 },
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
    if (beforeBar[next]! + (1 - OFF_SHARE) * before > mostStandingBar(input) + 2 * Math.sqrt(variance)) return;
    if (input.lasting[next] === 1 && zeroStepEdge < 0) {
      fork({
        edge: next,
        idleBar: idleBar + step,
        fallBar: before,
        mostFallBar: mostFall,
        varianceBar2: variance + sdBar[next]! ** 2,
        fees: fees + input.streetCost[next]!,
        levels: levels.shiftedBy(step),
        zeroStepEdge: next,
      });
    }
    const rest = before - step;
    for (let surge = 0; step > 0 && surge <= MOST_SURGE_EDGES; surge++) {
      if (surge > 0 && !isSurge(input, next, next + surge)) break;
      const backBar = afterBar[next + surge]!;
      const left = before - (backBar - beforeBar[next]!);
      const scale = Math.max(openFall, step);
      const allowed = variance + sdBar[next]! ** 2 + BOOKS_BAR ** 2 + (BOOKS_SHARE * scale) ** 2;
      const moved = backBar - idleBar;
      const books = (0.5 * left * left) / allowed;
      const streetCost = streetMoveCost(moved, afterMs, sdBar[open]!);
      const back = LEVEL_BAR + LEVEL_BAR_PER_S * (afterMs / 1000) + 1.5 * sdBar[open]!;
      const level = SLOW_CHANGE_FEE + (0.5 * moved * moved) / (back * back);
      const slow = afterMs < LONGEST_SLOW_CHANGE_MS && Math.abs(left) < MOST_SLOW_SHARE * Math.max(scale, mostFall);
      const off = slow ? Math.min(books + streetCost, level) : books + streetCost;
      const forgiven = isSmallDraw ? restFee : 0;
      offer(
        { close: next, kind: 'edge', softEndRow: -1, taperEdge: next, zeroStepEdge, surgeEdges: surge },
        fees - forgiven + off + surge * SURGE_FEE + lengthFee(afterMs),
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

/** Whether an edge may be the surge after a closing one: soon after it, and much smaller. */
function isSurge({ edges, timeMs }: SegmentationInput, close: number, edge: number): boolean {
  if (edge >= edges.count || timeMs[edges.row[edge]!]! - timeMs[edges.row[close]!]! > LONGEST_SURGE_MS) return false;
  const size = (k: number) => edges.afterBar[k]! - edges.beforeBar[k]!;
  return Math.abs(size(edge)) < MOST_SURGE_SHARE * size(close) && size(close + 1) < 0;
}

/** Draws that were under way when the block began: the closing edge tells what the fall was, backwards. */
export function drawsFromBlockStart(input: SegmentationInput, offer: (close: number, cost: number) => void): void {
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

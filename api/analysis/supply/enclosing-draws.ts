import {
  BOOKS_BAR,
  BOOKS_SHARE,
  DRAW_FEE,
  type DrawSegment,
  LAW_SHARE,
  LONGEST_DRAW_MS,
  lengthFee,
  mostStandingBar,
  type SegmentationInput,
  takesTooMuch,
} from './draw-courses.ts';
import type { WeighedDraw } from './segmentation.ts';
import { COST_PER_NAT, continuesMovement, streetMoveCost } from './street-costs.ts';
import { fallRatio, GROUND_TAP_LAW, type TapLaw } from './tap-law.ts';

/** A long draw about others: a pool fills while the household goes on. Its edges, and its fall when it opened. */
export interface EnclosingDraw {
  readonly open: number;
  readonly close: number;
  readonly fromRow: number;
  readonly toRow: number;
  readonly startMs: number;
  readonly endMs: number;
  readonly fallBar: number;
  /** Running pressure that the fall refers to. */
  readonly atBar: number;
  readonly residualBar: number;
  readonly varianceBar2: number;
  /** Weight of the account in which a street made its two edges and nobody drew. */
  readonly otherwiseShare: number;
  /** The house's, or that of an outlet at the ground, whichever its edges bear out. */
  readonly law: TapLaw;
}

/** The edges of a long draw are such as no street would make: half of what any edge may cost it at most. */
const UNLIKELY_STREET_COST = 25;
/** One draw about others is rarer than draws in turn: as much as three draws on top of its own fee. */
const ENCLOSING_FEE = 36;
/** Where the reading keeps to the opening step for hours only a sensor's zero and a long draw are left: no such fee. */
const LASTING_FEE = 6;
/**
 * A street seldom stands higher in the midst of a draw than before and after it. One deviation: the law may be off by as
 * much, and small draws inside may go on unseen.
 */
const HUMP_BAR = 0.08;
/** A draw about others that costs more than this is no account of them. */
const MOST_COST = 100;
/** What closes it gives back at least this share of what the law leaves of its fall: the street changes the rest. */
const LEAST_RISE_SHARE = 0.5;

/**
 * Long draws about whole draws: a pool that fills while the household goes on. Within one account every edge inside a
 * draw has its fee, so that hours with many draws inside cost more than a street with two impossible steps; here what is
 * inside is accounted for by the same steps as outside. Cost: steps of the account in the longest draw, for each edge
 * that no street would make.
 */
export class EnclosingDraws {
  readonly #input: SegmentationInput;
  readonly #street: Float64Array;
  readonly #byEdge: readonly (readonly WeighedDraw[])[];

  /** @param byEdge the draws that may open with each edge */
  constructor(input: SegmentationInput, byEdge: readonly (readonly WeighedDraw[])[]) {
    this.#input = input;
    this.#street = input.streetCost;
    this.#byEdge = byEdge;
  }

  /** Offers every closing edge of a long draw that opens with an edge, with the cost of it and of all inside. */
  from(open: number, offer: (close: number, cost: number) => void): void {
    const { beforeBar, afterBar } = this.#input.edges;
    if (afterBar[open]! >= beforeBar[open]! || this.#street[open]! < UNLIKELY_STREET_COST) return;
    // What goes on falling in the next row is no tap that was opened.
    if (continuesMovement(this.#input.edges, open) || continuesMovement(this.#input.edges, open + 1)) return;
    if (takesTooMuch(beforeBar[open]! - afterBar[open]!, afterBar[open]!)) return;
    const end = this.#lastWithin(open);
    if (!this.#hasClosing(open, end)) return;
    const inside = this.#reach(open, end);
    const fee = this.#input.lasting[open] === 1 ? LASTING_FEE : ENCLOSING_FEE;
    const fallBar = beforeBar[open]! - afterBar[open]!;
    let highest = afterBar[open]!;
    for (let close = open + 2; close <= end; close++) {
      highest = Math.max(highest, beforeBar[close - 1]!, afterBar[close - 1]!, beforeBar[close]!);
      if (!this.#mayClose(open, close)) continue;
      const { cost, law } = balance(this.#input, open, close);
      const asksBar = highest + fallBar * fallRatio(afterBar[open]!, highest, law);
      if (asksBar > mostStandingBar(this.#input)) continue;
      const above = Math.max(0, asksBar - Math.max(beforeBar[open]!, afterBar[close]!));
      const hump = (0.5 * above * above) / HUMP_BAR ** 2;
      if (cost + hump < MOST_COST) offer(close, fee + cost + hump + inside.cost[close - open - 1]!);
    }
  }

  /** The long draw itself. */
  draw(open: number, close: number): EnclosingDraw {
    const { edges, timeMs } = this.#input;
    const { rest, varianceBar2, cost, law } = balance(this.#input, open, close);
    const street = this.#street[open]! + this.#street[close]!;
    const fromRow = edges.row[open]!;
    const toRow = edges.row[close]!;
    return {
      open,
      close,
      fromRow,
      toRow,
      startMs: timeMs[fromRow]!,
      endMs: timeMs[toRow]!,
      fallBar: edges.beforeBar[open]! - edges.afterBar[open]!,
      atBar: edges.afterBar[open]!,
      residualBar: rest,
      varianceBar2,
      otherwiseShare: 1 / (1 + Math.exp((street - cost) / COST_PER_NAT)),
      law,
    };
  }

  /** The draws within it, ascending. */
  inside(open: number, close: number): DrawSegment[] {
    const { by } = this.#reach(open, close);
    const draws: DrawSegment[] = [];
    for (let at = close; at > open + 1; ) {
      const step = by[at - open - 1];
      if (step) draws.push(step.segment);
      at = step ? step.segment.open : at - 1;
    }
    return draws.reverse();
  }

  #lastWithin(open: number): number {
    const { edges, timeMs } = this.#input;
    const untilMs = timeMs[edges.row[open]!]! + LONGEST_DRAW_MS;
    let end = open;
    while (end + 1 < edges.count && timeMs[edges.row[end + 1]!]! <= untilMs) end++;
    return end;
  }

  #mayClose(open: number, close: number): boolean {
    const { beforeBar, afterBar } = this.#input.edges;
    const fall = beforeBar[open]! - afterBar[open]!;
    const rise = afterBar[close]! - beforeBar[close]!;
    const left = Math.min(
      1,
      ...[this.#input.law, GROUND_TAP_LAW].map((law) => fallRatio(afterBar[open]!, beforeBar[close]!, law)),
    );
    return (
      rise > LEAST_RISE_SHARE * left * fall &&
      this.#street[close]! >= UNLIKELY_STREET_COST &&
      !continuesMovement(this.#input.edges, close + 1)
    );
  }

  #hasClosing(open: number, end: number): boolean {
    for (let close = open + 2; close <= end; close++)
      if (this.#mayClose(open, close) && balance(this.#input, open, close).cost < MOST_COST) return true;
    return false;
  }

  /** Cheapest accounts of the edges from the one after `open` up to each one, and the draw that each ends with. */
  #reach(open: number, end: number): { readonly cost: Float64Array; readonly by: (WeighedDraw | undefined)[] } {
    const size = end - open;
    const cost = new Float64Array(size).fill(Number.POSITIVE_INFINITY);
    const by: (WeighedDraw | undefined)[] = new Array(size);
    cost[0] = 0;
    for (let k = 0; k + 1 < size; k++) {
      const edge = open + 1 + k;
      const asStreet = cost[k]! + this.#street[edge]!;
      if (asStreet < cost[k + 1]!) {
        cost[k + 1] = asStreet;
        by[k + 1] = undefined;
      }
      for (const draw of this.#byEdge[edge]!) {
        const to = draw.after - open - 1;
        if (to >= size || draw.segment.open < 0 || cost[k]! + draw.cost >= cost[to]!) continue;
        cost[to] = cost[k]! + draw.cost;
        by[to] = draw;
      }
    }
    return { cost, by };
  }
}

interface Balance {
  readonly rest: number;
  readonly varianceBar2: number;
  readonly cost: number;
  readonly law: TapLaw;
}

/** The books of a long draw from its two edges, by the law that balances them better. */
function balance(input: SegmentationInput, open: number, close: number): Balance {
  const byHouse = balanceBy(input.law, input, open, close);
  const byGround = balanceBy(GROUND_TAP_LAW, input, open, close);
  return byGround.cost < byHouse.cost ? byGround : byHouse;
}

function balanceBy(law: TapLaw, { edges, timeMs }: SegmentationInput, open: number, close: number): Balance {
  const { beforeBar, afterBar, sdBar, row } = edges;
  const fall = beforeBar[open]! - afterBar[open]!;
  const rise = afterBar[close]! - beforeBar[close]!;
  const ratio = fallRatio(afterBar[open]!, beforeBar[close]!, law);
  const rest = fall * ratio - rise;
  const varianceBar2 = sdBar[open]! ** 2 * ratio * ratio + (LAW_SHARE * fall * (ratio - 1)) ** 2;
  const allowed = varianceBar2 + sdBar[close]! ** 2 + BOOKS_BAR ** 2 + (BOOKS_SHARE * Math.max(fall, rise)) ** 2;
  const lengthMs = timeMs[row[close]!]! - timeMs[row[open]!]!;
  const moved = afterBar[close]! - beforeBar[open]!;
  // Half the logarithm of the variance as well: a law under which anything may happen explains nothing.
  const spread = 0.5 * Math.log(allowed / (BOOKS_BAR ** 2 + (BOOKS_SHARE * Math.max(fall, rise)) ** 2));
  const cost =
    DRAW_FEE +
    lengthFee(lengthMs) +
    spread +
    (0.5 * rest * rest) / allowed +
    streetMoveCost(moved, lengthMs, sdBar[open]!);
  return { rest, varianceBar2, cost, law };
}

/**
 * What standing pressure is under an enclosing draw, from what would be read without the draws inside it; and what another
 * account of the two edges leaves open.
 */
export function liftedBar(
  { fallBar, atBar, residualBar, startMs, endMs, varianceBar2, otherwiseShare, law }: EnclosingDraw,
  runningBar: number,
  atMs: number,
): { readonly bar: number; readonly varianceBar2: number; readonly doubtBar2: number } {
  const ratio = fallRatio(atBar, runningBar, law);
  const off = (residualBar * (atMs - startMs)) / Math.max(1, endMs - startMs);
  return {
    bar: runningBar + fallBar * ratio - off,
    varianceBar2: varianceBar2 + (LAW_SHARE * fallBar * (ratio - 1)) ** 2 + (0.5 * off) ** 2,
    doubtBar2: otherwiseShare * (fallBar * ratio) ** 2,
  };
}

import { type Edges, edgeBeyondStreet, QUIETEST_STREET_BAR } from './edge-levels.ts';

/* What the street's part of an account costs, in half squared deviations. */
/**
 * Costs of the account are half squared deviations under plain assumptions; real errors have heavier tails, so that a
 * difference of costs says so many times less than it seems to. With this many the deviations stated are about the
 * errors found over the labelled logs; pools with many draws inside ask for no more.
 */
export const COST_PER_NAT = 2.5;
/** The most a small edge left to the street costs: neighbours' taps and a sensor's zero step sharply too. */
const MOST_STREET_EDGE_COST = 50;
/** A street that falls or rises within half a minute, though it doesn't do so all the time. */
const STREET_RAMP_FEE = 6;
/** Smaller steps cost the less: other houses on the main make them all day. */
const COMMON_STREET_STEP_BAR = 0.05;
/**
 * A greater step costs more, up to a limit: a street takes 30 s and six rows for it, and a hose that ran among twenty
 * other draws must still be cheaper than a street that fell and rose within a second.
 */
export const GREAT_STREET_STEP_BAR = 0.15;
const GREAT_STEP_COST_PER_BAR = 100 / 0.3;
const MOST_GREAT_STEP_COST = 100;
/** A sensor's zero steps in few logs, and in those once or twice: twice a draw's fee. */
const ZERO_STEP_FEE = 25;
/** How fast standing pressure is expected to move: one deviation of its change over a draw. */
const STREET_BAR = 0.015;
const STREET_BAR_PER_S = 4e-4;
const MOST_STREET_BAR = 0.8;

/** Edges, and what their cost depends on. */
export interface StreetEdges {
  readonly edges: Edges;
  /** 1 for edges whose step stays for hours. */
  readonly lasting: Uint8Array;
  readonly noiseBar: number;
  /** `rampMisfit` of the rate. */
  readonly rampMisfit: number;
}

/** Edges in so many rows one after another may be one hand's turn; the more beyond, the surer a street's movement. */
const MOST_ROWS_OF_A_TAP = 2;

/**
 * Cost of each edge that the street is to have made. At slow rates a street that moves for some minutes makes an edge in
 * every row: edges of one direction in rows that follow one another are one movement, which costs as its greatest does,
 * and less where it takes more rows than a tap's turn. The first edge of a movement bears its cost.
 */
export function streetEdgeCosts(input: StreetEdges): Float64Array {
  const { count } = input.edges;
  const costs = new Float64Array(count);
  const goesOn = (k: number) => continuesMovement(input.edges, k);
  for (let first = 0; first < count; ) {
    let most = streetEdgeCost(input, first);
    let next = first + 1;
    for (; goesOn(next); next++) most = Math.max(most, streetEdgeCost(input, next));
    const rows = next - first;
    const share = rows > MOST_ROWS_OF_A_TAP ? MOST_ROWS_OF_A_TAP / rows ** 2 : 1;
    costs[first] = share * most;
    first = next;
  }
  return costs;
}

/** Whether an edge goes on with the movement of the one before it: in the row after it, in its direction. */
export function continuesMovement({ count, row, beforeBar, afterBar }: Edges, k: number): boolean {
  return (
    k > 0 &&
    k < count &&
    row[k]! - row[k - 1]! === 1 &&
    (afterBar[k]! - beforeBar[k]!) * (afterBar[k - 1]! - beforeBar[k - 1]!) > 0
  );
}

/** Cost of one edge that the street is to have made. */
function streetEdgeCost({ edges, noiseBar, rampMisfit, lasting }: StreetEdges, k: number): number {
  const step = Math.abs(edges.afterBar[k]! - edges.beforeBar[k]!);
  const beyond = edgeBeyondStreet(step, edges.flickerBar[k]!);
  const small = MOST_STREET_EDGE_COST * Math.min(1, step / COMMON_STREET_STEP_BAR);
  const great = Math.min(MOST_GREAT_STEP_COST, GREAT_STEP_COST_PER_BAR * Math.max(0, step - GREAT_STREET_STEP_BAR));
  // A step that stays is the sensor's, and no tap's.
  const most = lasting[k] === 1 ? ZERO_STEP_FEE : small + great;
  const ramp = STREET_RAMP_FEE + rampMisfit * (step / noiseBar) ** 2;
  return Math.min(most, rampMisfit * beyond * beyond, ramp);
}

/**
 * The fall from which a draw of its own is surely told: the least whose two edges cost the street more than the draw's
 * fees. At slow rates a street does more between two rows than the least fall that is asked for.
 * @param flickerBar what the street does in a few rows anyway; `fees` what a draw of the shortest length costs
 */
export function tellingFallBar(flickerBar: number, rampMisfit: number, fees: number): number {
  return 2 * flickerBar + Math.max(flickerBar, QUIETEST_STREET_BAR) * Math.sqrt(fees / (2 * rampMisfit));
}

/** Cost of a street that moved so far during a draw. */
export function streetMoveCost(movedBar: number, lengthMs: number, sdBar: number): number {
  const street = Math.min(MOST_STREET_BAR, STREET_BAR + (STREET_BAR_PER_S * lengthMs) / 1000);
  return (0.5 * movedBar * movedBar) / (street * street + sdBar ** 2);
}

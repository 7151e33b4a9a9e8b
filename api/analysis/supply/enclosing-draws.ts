import type { Edges } from './edge-levels.ts';
import {
  BOOKS_BAR,
  BOOKS_SHARE,
  DRAW_FEE,
  type DrawSegment,
  LAW_SHARE,
  LONGEST_DRAW_MS,
  lengthFee,
  type SegmentationInput,
} from './segmentation.ts';
import { COST_PER_NAT, type StreetEdges, streetEdgeCost, streetMoveCost } from './street-costs.ts';
import { fallRatio, type TapLaw } from './tap-law.ts';

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
}

/** An edge left to the street, though no street would make it: half of what any edge may cost it at most. */
const UNLIKELY_STREET_COST = 25;
/** An edge that a street may well have made stands between the two edges of a long draw without breaking it. */
const LIKELY_STREET_COST = 10;

/**
 * Pairs of sharp edges left to the street that balance as one long draw around whole draws. Within one account every
 * edge inside a draw has its fee, so that hours with many draws inside cost more than a street with two impossible
 * steps; the draws inside are paid already, and only the two edges are compared here.
 */
export function findEnclosingDraws(
  input: StreetEdges & Pick<SegmentationInput, 'timeMs' | 'law'>,
  segments: readonly DrawSegment[],
): EnclosingDraw[] {
  const { edges, timeMs } = input;
  const inDraw = new Uint8Array(edges.count);
  for (const { open, close } of segments) inDraw.fill(1, Math.max(0, open), close + 1);
  const found: EnclosingDraw[] = [];
  for (let open = 0; open < edges.count; open++) {
    if (inDraw[open] === 1 || edges.afterBar[open]! >= edges.beforeBar[open]!) continue;
    if (streetEdgeCost(input, open) < UNLIKELY_STREET_COST) continue;
    const close = closingEdge(input, inDraw, open);
    if (close === undefined) continue;
    const fallBar = edges.beforeBar[open]! - edges.afterBar[open]!;
    const { rest, varianceBar2, cost } = balance(edges, open, close, input.law, timeMs);
    const street = streetEdgeCost(input, open) + streetEdgeCost(input, close);
    if (cost >= street) continue;
    const fromRow = edges.row[open]!;
    const toRow = edges.row[close]!;
    found.push({
      open,
      close,
      fromRow,
      toRow,
      startMs: timeMs[fromRow]!,
      endMs: timeMs[toRow]!,
      fallBar,
      atBar: edges.afterBar[open]!,
      residualBar: rest,
      varianceBar2,
      otherwiseShare: 1 / (1 + Math.exp((street - cost) / COST_PER_NAT)),
    });
    open = close;
  }
  return found;
}

/** The next edge that no street would make, if it rises. */
function closingEdge(
  input: StreetEdges & Pick<SegmentationInput, 'timeMs'>,
  inDraw: Uint8Array,
  open: number,
): number | undefined {
  const { edges, timeMs } = input;
  for (let k = open + 1; k < edges.count; k++) {
    if (timeMs[edges.row[k]!]! - timeMs[edges.row[open]!]! > LONGEST_DRAW_MS) return undefined;
    if (inDraw[k] === 1) continue;
    const cost = streetEdgeCost(input, k);
    if (cost < LIKELY_STREET_COST) continue;
    return cost >= UNLIKELY_STREET_COST && edges.afterBar[k]! > edges.beforeBar[k]! ? k : undefined;
  }
  return undefined;
}

function balance(
  { beforeBar, afterBar, sdBar, row }: Edges,
  open: number,
  close: number,
  law: TapLaw,
  timeMs: Float64Array,
): { rest: number; varianceBar2: number; cost: number } {
  const fall = beforeBar[open]! - afterBar[open]!;
  const rise = afterBar[close]! - beforeBar[close]!;
  const ratio = fallRatio(afterBar[open]!, beforeBar[close]!, law);
  const rest = fall * ratio - rise;
  const varianceBar2 = sdBar[open]! ** 2 * ratio * ratio + (LAW_SHARE * fall * (ratio - 1)) ** 2;
  const allowed = varianceBar2 + sdBar[close]! ** 2 + BOOKS_BAR ** 2 + (BOOKS_SHARE * Math.max(fall, rise)) ** 2;
  const lengthMs = timeMs[row[close]!]! - timeMs[row[open]!]!;
  const moved = afterBar[close]! - beforeBar[open]!;
  const cost =
    DRAW_FEE + lengthFee(lengthMs) + (0.5 * rest * rest) / allowed + streetMoveCost(moved, lengthMs, sdBar[open]!);
  return { rest, varianceBar2, cost };
}

/** What standing pressure is under an enclosing draw, from what would be read without the draws inside it; and what another account of the two edges leaves open. */
export function liftedBar(
  { fallBar, atBar, residualBar, startMs, endMs, varianceBar2, otherwiseShare }: EnclosingDraw,
  runningBar: number,
  atMs: number,
  law: TapLaw,
): { readonly bar: number; readonly varianceBar2: number; readonly doubtBar2: number } {
  const ratio = fallRatio(atBar, runningBar, law);
  const off = (residualBar * (atMs - startMs)) / Math.max(1, endMs - startMs);
  return {
    bar: runningBar + fallBar * ratio - off,
    varianceBar2: varianceBar2 + (LAW_SHARE * fallBar * (ratio - 1)) ** 2 + (0.5 * off) ** 2,
    doubtBar2: otherwiseShare * (fallBar * ratio) ** 2,
  };
}

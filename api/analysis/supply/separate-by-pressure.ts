import { accountDoubt } from './account-doubt.ts';
import type { AccountWindow } from './account-window.ts';
import { type Balance, balanceOf } from './balances.ts';
import { type Books, keepBooks } from './books.ts';
import { carryThrough } from './carry-through.ts';
import { drawExtent } from './draw-extent.ts';
import { type Edges, edgeLevels } from './edge-levels.ts';
import { NOISY_BAR, scanEdges } from './edge-scan.ts';
import { type EnclosingDraw, liftedBar } from './enclosing-draws.ts';
import type { KnownStretch } from './known-draws.ts';
import { lastingSteps } from './lasting-steps.ts';
import type { OwnDraw } from './own-draw.ts';
import { segmentDraws } from './segmentation.ts';
import type { CellSums } from './standing-cells.ts';
import { streetEdgeCosts } from './street-costs.ts';
import { type StreetEdge, streetEdgesOf } from './street-edges.ts';
import { LocalFlicker } from './street-flicker.ts';
import type { SupplyParameters } from './supply-parameters.ts';
import { type TellingDraw, tellingDraw } from './tap-law-fit.ts';

/** The edges of a window and the cheapest account of them. */
export interface PressureAccount {
  readonly edges: Edges;
  readonly books: readonly Books[];
  readonly enclosing: readonly EnclosingDraw[];
  /** By row from the window's `from` on: variance of the fall over all accounts that the edges allow. */
  readonly doubtBar2: Float32Array;
  /** Rows with draws or edges, ascending by their first. */
  readonly busy: readonly { readonly fromRow: number; readonly toRow: number }[];
}

export interface SettledDraws {
  readonly draws: readonly OwnDraw[];
  readonly streetEdges: readonly StreetEdge[];
  /** Draws that tell the tap's law of this house. */
  readonly telling: readonly TellingDraw[];
  /** How well the books of its draws balanced. */
  readonly balances: readonly Balance[];
}

/** Own draws of a window told from the pressure alone: its edges, and the cheapest account of them. */
export function accountByPressure(window: AccountWindow, parameters: SupplyParameters): PressureAccount {
  const { timeMs, pressureBar, from, to, opensBlock } = window;
  const { noiseBar, quantumBar, flickerBar, tuning, law, leastFallBar } = parameters;
  // A quiet log's usual levels are the surest; other rows are averaged where the noise asks for it.
  const looks = noiseBar > NOISY_BAR ? tuning : { ...tuning, levelScales: [tuning.levelRows] };
  const flicker = new LocalFlicker(pressureBar, 0, to, looks, flickerBar, noiseBar, quantumBar);
  const found = scanEdges(pressureBar, 0, to, tuning, noiseBar, quantumBar, flicker);
  // A block's first rows are an edge's levels; those before a seam were accounted for.
  const own = opensBlock ? found : found.filter((row) => row >= from);
  const edges = edgeLevels(pressureBar, 0, to, own, tuning, noiseBar, flicker);
  const lasting = lastingSteps(timeMs, pressureBar, edges, parameters.intervalS);
  const weights = { lasting, timeMs, noiseBar, rampMisfit: tuning.rampMisfit, law };
  const input = {
    ...weights,
    pressureBar,
    from,
    to,
    mayBeginDrawn: opensBlock,
    edges,
    streetCost: streetEdgeCosts({ ...weights, edges }),
    levelRows: tuning.levelRows,
    turnRows: tuning.turnRows,
    leastFallBar,
    highestBar: highestOf(pressureBar),
  };
  const { draws: segments, enclosing, weighed } = segmentDraws(input);
  const books = segments.map((segment) => keepBooks(edges, segment, from, to, law, timeMs));
  const margin = 2 * tuning.transitionRows + 1;
  const busy = [
    ...Array.from(edges.row, (row) => ({ fromRow: row - margin, toRow: row + margin })),
    ...books.map(({ fromRow, toRow }) => ({ fromRow: fromRow - margin, toRow: toRow + margin })),
    ...enclosing.map(({ fromRow, toRow }) => ({ fromRow: fromRow - margin, toRow: toRow + margin })),
  ].sort((a, b) => a.fromRow - b.fromRow);
  return { edges, books, enclosing, doubtBar2: accountDoubt(input, segments, enclosing, weighed), busy };
}

function highestOf(pressureBar: Float64Array): number {
  let highest = Number.NEGATIVE_INFINITY;
  for (const bar of pressureBar) if (bar > highest) highest = bar;
  return highest;
}

/**
 * Adds the rows of an account before `endRow` to the cells, standing pressure carried through its draws.
 * @param knownDrawn what was known beforehand and taken out of the readings: nothing is told there
 */
export function settleByPressure(
  window: AccountWindow,
  account: PressureAccount,
  endRow: number,
  parameters: SupplyParameters,
  knownDrawn: readonly KnownStretch[],
  cells: CellSums,
): SettledDraws {
  const { timeMs, pressureBar, to } = window;
  const { noiseBar, tuning, law } = parameters;
  const { edges, doubtBar2 } = account;
  const books = account.books.filter(({ fromRow }) => fromRow < endRow);
  const enclosing = account.enclosing.filter(({ fromRow }) => fromRow < endRow);
  const draws: OwnDraw[] = [];
  const isKnown = rowsWithin(knownDrawn, timeMs);
  let about = 0;
  let row = window.from;
  const within = (at: number): EnclosingDraw | undefined => {
    while (about < enclosing.length && enclosing[about]!.toRow <= at) about++;
    return about < enclosing.length && enclosing[about]!.fromRow <= at ? enclosing[about] : undefined;
  };
  const idleUpTo = (end: number): void => {
    for (; row < end; row++) {
      const at = timeMs[row]!;
      const cell = cells.cellOf(at);
      const around = enclosing.length > 0 ? within(row) : undefined;
      if (isKnown(row)) cells.addHidden(cell);
      else if (around) {
        const lifted = liftedBar(around, pressureBar[row]!, at);
        cells.addCarried(cell, lifted.bar, lifted.varianceBar2, lifted.doubtBar2);
      } else cells.addSeen(cell, pressureBar[row]!, doubtBar2[row - window.from]!);
    }
  };
  for (const kept of books) {
    const extent = drawExtent(kept, edges, timeMs, pressureBar, noiseBar, row, to);
    idleUpTo(Math.max(row, Math.min(kept.fromRow, extent.fromRow) - tuning.transitionRows));
    draws.push(
      carryThrough(
        kept,
        timeMs,
        pressureBar,
        to,
        law,
        cells,
        doubtBar2,
        window.from,
        extent,
        within(kept.fromRow),
        isKnown,
      ),
    );
    row = Math.max(row, extent.toRow, kept.idleFromRow + 2 * tuning.transitionRows);
  }
  idleUpTo(endRow);
  return {
    draws: withEnclosing(draws, enclosing),
    streetEdges: streetEdgesOf(edges, account.books, enclosing, timeMs, pressureBar, endRow),
    telling: books.flatMap((kept) => tellingDraw(edges, kept, timeMs) ?? []),
    balances: books.flatMap((kept) => balanceOf(kept) ?? []),
  };
}

/** One draw for each long one: what was drawn inside it deepens it for as long as it lasted. */
function withEnclosing(draws: readonly OwnDraw[], enclosing: readonly EnclosingDraw[]): OwnDraw[] {
  if (enclosing.length === 0) return [...draws];
  const long = enclosing.map(({ startMs, endMs, fallBar, residualBar }) => {
    const mean = fallBar - residualBar / 2;
    const inside = draws.filter((draw) => draw.startMs >= startMs && draw.endMs <= endMs);
    const deeper = inside.reduce((sum, draw) => sum + (draw.dropBar - mean) * (draw.endMs - draw.startMs), 0);
    return { startMs, endMs, dropBar: mean + deeper / Math.max(1, endMs - startMs), whole: true };
  });
  const apart = draws.filter((draw) => !long.some((l) => draw.startMs >= l.startMs && draw.endMs <= l.endMs));
  return [...apart, ...long].sort((a, b) => a.startMs - b.startMs);
}

/** Whether a row lies in one of the stretches; asked for ascending rows it takes linear time. */
function rowsWithin(stretches: readonly KnownStretch[], timeMs: Float64Array): (row: number) => boolean {
  let next = 0;
  return (row) => {
    const at = timeMs[row]!;
    while (next > 0 && stretches[next - 1]!.endMs > at) next--;
    while (next < stretches.length && stretches[next]!.endMs <= at) next++;
    return next < stretches.length && stretches[next]!.startMs <= at;
  };
}

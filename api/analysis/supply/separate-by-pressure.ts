import { type Books, keepBooks } from './books.ts';
import { carryThrough } from './carry-through.ts';
import { drawExtent } from './draw-extent.ts';
import { type Edges, edgeLevels } from './edge-levels.ts';
import { scanEdges } from './edge-scan.ts';
import { type EnclosingDraw, findEnclosingDraws, liftedBar } from './enclosing-draws.ts';
import type { OwnDraw } from './own-draw.ts';
import type { RateTuning } from './rate-tuning.ts';
import { segmentDraws } from './segmentation.ts';
import type { CellSums } from './standing-cells.ts';
import { streetFlickerBar } from './street-flicker.ts';
import { type TapLaw, USUAL_TAP_LAW } from './tap-law.ts';
import { fitTapLaw } from './tap-law-fit.ts';
import type { UsableRows } from './usable-rows.ts';

/** A sharp step that no draw explains: the sensor's, or a valve of the supplier. */
export interface StreetEdge {
  readonly atMs: number;
  readonly beforeBar: number;
  readonly afterBar: number;
  readonly sdBar: number;
  /** Between the two rows at the edge: how much of the step happened within one interval. */
  readonly jumpBar: number;
}

export interface Separation {
  readonly draws: readonly OwnDraw[];
  readonly streetEdges: readonly StreetEdge[];
  readonly law: TapLaw;
}

/** Stretches that are known to be drawn from, whatever the reading shows: a pump's runs. */
export interface KnownStretch {
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * Own draws told from the pressure alone, and standing pressure carried through them: edges, the cheapest account of
 * them, the law of this house from its own draws, and the account once more under that law.
 */
export function separateByPressure(
  rows: UsableRows,
  tuning: RateTuning,
  noise: { noiseBar: number; quantumBar: number },
  leastFallBar: number,
  knownDrawn: readonly KnownStretch[],
  cells: CellSums,
): Separation {
  const { timeMs, pressureBar } = rows;
  const flickerBar = streetFlickerBar(pressureBar, tuning.levelRows, noise.quantumBar);
  const blocks = rows.blocks.map(({ from, to }) => {
    const found = scanEdges(pressureBar, from, to, tuning, noise.noiseBar, noise.quantumBar, flickerBar);
    return { from, to, edges: edgeLevels(pressureBar, from, to, found, tuning, noise.noiseBar, flickerBar) };
  });
  const account = (block: { from: number; to: number; edges: Edges }, law: TapLaw): Books[] =>
    segmentDraws({
      timeMs,
      pressureBar,
      ...block,
      noiseBar: noise.noiseBar,
      flickerBar,
      rampMisfit: tuning.rampMisfit,
      levelRows: tuning.levelRows,
      leastFallBar,
      law,
    }).map((segment) => keepBooks(block.edges, segment, block.from, block.to, law, timeMs));
  let books = blocks.map((block) => account(block, USUAL_TAP_LAW));
  const law = fitTapLaw(blocks.flatMap((block, b) => books[b]!.map((kept) => ({ ...block, timeMs, books: kept }))));
  if (law !== USUAL_TAP_LAW) books = blocks.map((block) => account(block, law));

  const draws: OwnDraw[] = [];
  const streetEdges: StreetEdge[] = [];
  blocks.forEach((block, b) => {
    const segments = books[b]!.map((kept) => kept.segment);
    const weights = { timeMs, noiseBar: noise.noiseBar, flickerBar, rampMisfit: tuning.rampMisfit, law };
    const enclosing = findEnclosingDraws({ ...weights, edges: block.edges }, segments);
    const blockDraws: OwnDraw[] = [];
    let known = 0;
    let about = 0;
    let row = block.from;
    const within = (at: number): EnclosingDraw | undefined => {
      while (about < enclosing.length && enclosing[about]!.toRow <= at) about++;
      return about < enclosing.length && enclosing[about]!.fromRow <= at ? enclosing[about] : undefined;
    };
    const idleUpTo = (end: number): void => {
      for (; row < end; row++) {
        const at = timeMs[row]!;
        while (known < knownDrawn.length && knownDrawn[known]!.endMs <= at) known++;
        const cell = cells.cellOf(at);
        const around = enclosing.length > 0 ? within(row) : undefined;
        if (known < knownDrawn.length && knownDrawn[known]!.startMs <= at) cells.addHidden(cell);
        else if (around) {
          const lifted = liftedBar(around, pressureBar[row]!, at, law);
          cells.addCarried(cell, lifted.bar, lifted.varianceBar2);
        } else cells.addSeen(cell, pressureBar[row]!);
      }
    };
    for (const kept of books[b]!) {
      const extent = drawExtent(kept, block.edges, timeMs, pressureBar, noise.noiseBar, row, block.to);
      idleUpTo(Math.max(row, Math.min(kept.fromRow, extent.fromRow) - tuning.transitionRows));
      blockDraws.push(carryThrough(kept, timeMs, pressureBar, block.to, law, cells, extent, within(kept.fromRow)));
      row = Math.max(row, extent.toRow, kept.toRow + 2 * tuning.transitionRows);
    }
    idleUpTo(block.to);
    draws.push(...withEnclosing(blockDraws, enclosing));
    collectStreetEdges(block.edges, books[b]!, enclosing, timeMs, pressureBar, streetEdges);
  });
  return { draws, streetEdges, law };
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

function collectStreetEdges(
  edges: Edges,
  books: readonly Books[],
  enclosing: readonly EnclosingDraw[],
  timeMs: Float64Array,
  pressureBar: Float64Array,
  into: StreetEdge[],
): void {
  let b = 0;
  for (let k = 0; k < edges.count; k++) {
    while (b < books.length && books[b]!.segment.close < k) b++;
    const segment = books[b]?.segment;
    if (segment && k >= segment.open && k <= segment.close) continue;
    if (enclosing.some(({ open, close }) => k === open || k === close)) continue;
    into.push({
      atMs: timeMs[edges.row[k]!]!,
      beforeBar: edges.beforeBar[k]!,
      afterBar: edges.afterBar[k]!,
      sdBar: edges.sdBar[k]!,
      jumpBar: pressureBar[edges.row[k]!]! - pressureBar[edges.row[k]! - 1]!,
    });
  }
}

import type { AccountWindow } from './account-window.ts';
import { flowDraws, isSteady, leastDrawnLpm, type RowRange } from './flow-draws.ts';
import type { OwnDraw } from './own-draw.ts';
import type { CellSums } from './standing-cells.ts';
import type { SupplyParameters } from './supply-parameters.ts';

/** Share of the computed loss that the fitted curve may be off by. */
const CURVE_SHARE = 0.04;

/** A window whose flow is metered. */
export type MeteredWindow = AccountWindow & { readonly flowLpm: Float64Array };

/** Rows [fromRow, toRow) of a window with flow: where a meter for the household decides, flow is a draw and a fall isn't. */
export function accountByFlow(window: MeteredWindow, { tuning, curve }: SupplyParameters): readonly RowRange[] {
  const { timeMs, flowLpm, from, to } = window;
  return flowDraws(timeMs, flowLpm, from, to, tuning.joinPauseS, leastDrawnLpm(curve));
}

/**
 * Adds the rows before `endRow` to the cells: standing pressure inside a draw is reading plus the fitted loss k·Qⁿ,
 * hidden where no curve could be fitted.
 */
export function settleByFlow(
  window: MeteredWindow,
  ranges: readonly RowRange[],
  endRow: number,
  { intervalS, leastFallBar, tuning, curve }: SupplyParameters,
  cells: CellSums,
): OwnDraw[] {
  const { timeMs, pressureBar, flowLpm, from, to } = window;
  const lossAt = (flow: number) => (curve && flow > 0 ? curve.k * flow ** curve.n : 0);
  const draws: OwnDraw[] = [];
  let row = from;
  for (const range of ranges) {
    if (range.fromRow >= endRow) break;
    // The value of the first row is the mean since the row before it: the tap opened in between.
    for (; row < range.fromRow - 1; row++)
      cells.addSeen(cells.cellOf(timeMs[row]!), pressureBar[row]! + lossAt(flowLpm[row]!));
    let flows = 0;
    let falls = 0;
    let steadyRows = 0;
    for (row = Math.max(row, range.fromRow); row < range.toRow; row++) {
      const flow = flowLpm[row]!;
      flows += flow;
      const cell = cells.cellOf(timeMs[row]!);
      const loss = curve ? curve.k * flow ** curve.n : Number.NaN;
      if (curve && isSteady(flowLpm, row, from, to)) {
        falls += loss;
        steadyRows++;
        cells.addCarried(cell, pressureBar[row]! + loss, (CURVE_SHARE * loss) ** 2 + (curve.sdBar / 2) ** 2);
      } else cells.addHidden(cell);
    }
    row = Math.min(endRow, range.toRow + tuning.transitionRows);
    const meanLpm = flows / (range.toRow - range.fromRow);
    const dropBar = steadyRows > 0 ? falls / steadyRows : curve ? curve.k * meanLpm ** curve.n : Number.NaN;
    if (!(dropBar < leastFallBar / 3)) {
      draws.push({
        startMs: timeMs[range.fromRow]! - intervalS * 1000,
        endMs: timeMs[range.toRow - 1]!,
        dropBar,
        meanLpm,
        whole: range.fromRow > from && range.toRow < to,
      });
    }
  }
  for (; row < endRow; row++) cells.addSeen(cells.cellOf(timeMs[row]!), pressureBar[row]! + lossAt(flowLpm[row]!));
  return draws;
}

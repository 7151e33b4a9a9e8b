import type { AccountWindow } from './account-window.ts';
import { carryByFlow, drawEvidence } from './carry-by-flow.ts';
import { flowDraws, flowingShares, idleAbout, leastDrawnLpm, meteredExtent, type RowRange } from './flow-draws.ts';
import type { OwnDraw } from './own-draw.ts';
import type { CellSums } from './standing-cells.ts';
import type { SupplyParameters } from './supply-parameters.ts';

/** A window whose flow is metered. */
export type MeteredWindow = AccountWindow & { readonly flowLpm: Float64Array };

/** Rows [fromRow, toRow) of a window with flow: where a meter for the household decides, flow is a draw and a fall isn't. */
export function accountByFlow(window: MeteredWindow, { tuning, curve }: SupplyParameters): readonly RowRange[] {
  const { timeMs, flowLpm, from, to } = window;
  return flowDraws(timeMs, flowLpm, from, to, tuning.joinPauseS, leastDrawnLpm(curve));
}

/**
 * Adds the rows before `endRow` to the cells: standing pressure inside a draw is reading plus the fitted loss k·Qⁿ,
 * corrected by the draw's own edges; hidden where no curve could be fitted.
 */
export function settleByFlow(
  window: MeteredWindow,
  ranges: readonly RowRange[],
  endRow: number,
  { intervalS, leastFallBar, tuning, curve, noiseBar, quantumBar }: SupplyParameters,
  cells: CellSums,
): OwnDraw[] {
  const { timeMs, pressureBar, flowLpm, from, to } = window;
  const intervalMs = intervalS * 1000;
  const readingSdBar = Math.hypot(noiseBar, quantumBar / Math.sqrt(12));
  const lossAt = (flow: number) => (curve && flow > 0 ? curve.k * flow ** curve.n : 0);
  const draws: OwnDraw[] = [];
  let row = from;
  let previousToRow = from;
  ranges.forEach((range, r) => {
    if (range.fromRow >= endRow) return;
    // The value of the first row is the mean since the row before it: the tap opened in between.
    for (; row < range.fromRow - 1; row++)
      cells.addSeen(cells.cellOf(timeMs[row]!), pressureBar[row]! + lossAt(flowLpm[row]!));
    const idle = idleAbout(ranges, r, { from: 0, to });
    const carried = curve
      ? carryByFlow(
          pressureBar,
          flowLpm,
          drawEvidence(pressureBar, flowLpm, range, idle, curve, readingSdBar, intervalS),
          curve,
          intervalS,
        )
      : [];
    const between = { previousToRow, nextFromRow: ranges[r + 1]?.fromRow ?? to };
    const extent = meteredExtent(timeMs, flowLpm, range, between, tuning.joinPauseS);
    previousToRow = extent.toRow;
    const shares = flowingShares(flowLpm, extent, intervalS);
    const shareOf = (i: number) => (i === extent.fromRow ? shares.first : i === extent.toRow - 1 ? shares.last : 1);
    let litres = 0;
    let falls = 0;
    let flowing = 0;
    const count = (i: number, standingBar?: number) => {
      const share = shareOf(i);
      litres += flowLpm[i]!;
      flowing += share;
      falls +=
        standingBar === undefined ? share * lossAt(flowLpm[i]! / share) : share * (standingBar - pressureBar[i]!);
    };
    let c = 0;
    row = Math.max(row, range.fromRow);
    for (let i = range.fromRow; i < range.toRow; i++) {
      const known = carried[c]?.row === i ? carried[c++] : undefined;
      count(i, known?.standingBar);
      if (i < row) continue;
      const cell = cells.cellOf(timeMs[i]!);
      if (known) cells.addCarried(cell, known.standingBar, known.varianceBar2);
      else cells.addHidden(cell);
    }
    row = Math.min(endRow, range.toRow + tuning.transitionRows);
    const clearBar = curve ? falls / flowing : Number.NaN;
    for (let i = extent.fromRow; i < range.fromRow; i++) count(i);
    for (let i = range.toRow; i < extent.toRow; i++) count(i);
    if (!(clearBar < leastFallBar / 3)) {
      draws.push({
        startMs: Math.round(timeMs[extent.fromRow]! - shares.first * intervalMs),
        endMs: Math.round(timeMs[extent.toRow - 1]! - (1 - shares.last) * intervalMs),
        dropBar: curve ? falls / flowing : Number.NaN,
        clearBar,
        meanLpm: litres / flowing,
        whole: range.fromRow > from && range.toRow < to,
      });
    }
  });
  for (; row < endRow; row++) cells.addSeen(cells.cellOf(timeMs[row]!), pressureBar[row]! + lossAt(flowLpm[row]!));
  return draws;
}

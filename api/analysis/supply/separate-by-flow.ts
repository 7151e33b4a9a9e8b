import { fitSupplyCurve, flowDraws, isSteady, LEAST_FLOW_LPM, leastDrawnLpm, type SupplyCurve } from './flow-draws.ts';
import type { OwnDraw } from './own-draw.ts';
import type { RateTuning } from './rate-tuning.ts';
import type { CellSums } from './standing-cells.ts';
import type { UsableRows } from './usable-rows.ts';

/** Share of the computed loss that the fitted curve may be off by. */
const CURVE_SHARE = 0.04;

/**
 * Own draws where a meter for the household decides: flow is a draw, a fall without flow is not. Standing pressure
 * inside is reading plus the fitted loss k·Qⁿ; hidden where no curve could be fitted.
 */
export function separateByFlow(
  rows: UsableRows & { readonly flowLpm: Float64Array },
  tuning: RateTuning,
  intervalS: number,
  leastFallBar: number,
  cells: CellSums,
): { draws: OwnDraw[]; curve: SupplyCurve | undefined } {
  const { timeMs, pressureBar, flowLpm, blocks } = rows;
  const rangesOver = (leastLpm: number) =>
    blocks.map(({ from, to }) => flowDraws(timeMs, flowLpm, from, to, tuning.joinPauseS, leastLpm));
  const flowing = rangesOver(LEAST_FLOW_LPM);
  const curve = fitSupplyCurve(pressureBar, flowLpm, blocks, flowing);
  const ranges = curve ? rangesOver(leastDrawnLpm(curve)) : flowing;
  const lossAt = (flow: number) => (curve && flow > 0 ? curve.k * flow ** curve.n : 0);
  const draws: OwnDraw[] = [];
  blocks.forEach((block, b) => {
    let row = block.from;
    for (const range of ranges[b]!) {
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
        if (curve && isSteady(flowLpm, row, block.from, block.to)) {
          falls += loss;
          steadyRows++;
          cells.addCarried(cell, pressureBar[row]! + loss, (CURVE_SHARE * loss) ** 2 + (curve.sdBar / 2) ** 2);
        } else cells.addHidden(cell);
      }
      row = Math.min(block.to, range.toRow + tuning.transitionRows);
      const meanLpm = flows / (range.toRow - range.fromRow);
      const dropBar = steadyRows > 0 ? falls / steadyRows : curve ? curve.k * meanLpm ** curve.n : Number.NaN;
      if (!(dropBar < leastFallBar / 3)) {
        draws.push({
          startMs: timeMs[range.fromRow]! - intervalS * 1000,
          endMs: timeMs[range.toRow - 1]!,
          dropBar,
          meanLpm,
          whole: range.fromRow > block.from && range.toRow < block.to,
        });
      }
    }
    for (; row < block.to; row++) cells.addSeen(cells.cellOf(timeMs[row]!), pressureBar[row]! + lossAt(flowLpm[row]!));
  });
  return { draws, curve };
}

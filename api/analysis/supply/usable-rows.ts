import { gapLimitMs } from '../quality/gaps.ts';
import type { SupplyRows } from './account-window.ts';

/** Rows whose pressure may be used, without holes in the arrays; a block is a stretch of them without a gap. */
export interface UsableRows {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
  readonly blocks: readonly { readonly from: number; readonly to: number }[];
}

export function usableRows(series: SupplyRows, intervalS: number): UsableRows {
  const { timeMs, pressureBar } = series;
  let usable = 0;
  for (let i = 0; i < pressureBar.length; i++) if (!Number.isNaN(pressureBar[i]!)) usable++;
  const whole = usable === pressureBar.length;
  const pick = (column: Float64Array) => (whole ? column : keepUsable(column, pressureBar, usable));
  const times = pick(timeMs);
  const limit = gapLimitMs(intervalS * 1000) + intervalS * 1000;
  const blocks: { from: number; to: number }[] = [];
  let from = 0;
  for (let i = 1; i <= usable; i++) {
    if (i < usable && times[i]! - times[i - 1]! < limit) continue;
    blocks.push({ from, to: i });
    from = i;
  }
  return {
    timeMs: times,
    pressureBar: pick(pressureBar),
    flowLpm: series.flowLpm && pick(series.flowLpm),
    blocks: usable === 0 ? [] : blocks,
  };
}

function keepUsable(column: Float64Array, pressureBar: Float64Array, usable: number): Float64Array {
  const kept = new Float64Array(usable);
  let n = 0;
  for (let i = 0; i < column.length; i++) if (!Number.isNaN(pressureBar[i]!)) kept[n++] = column[i]!;
  return kept;
}

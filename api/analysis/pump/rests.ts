import type { Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** Rests that no start ends: up to a gap or the log's end. They too show what flows away steadily. */
export function restsAfterAll(rows: PumpRows, runs: readonly PumpRun[]): Rest[] {
  const rests: Rest[] = [];
  let k = 0;
  for (let s = 1; s < rows.stretchFrom.length; s++) {
    const end = rows.stretchFrom[s]! - 1;
    while (k < runs.length && runs[k]!.startRow <= end) k++;
    const fromRow = runs[k - 1]?.stopRow;
    if (fromRow !== undefined && fromRow >= rows.stretchFrom[s - 1]! && fromRow < end)
      rests.push({ fromRow, toRow: end });
  }
  return rests;
}

/** From the previous stop to this start; where that isn't seen, from the stretch's beginning. */
export function restBefore(rows: PumpRows, previous: PumpRun | undefined, run: PumpRun): Rest {
  let stretch = 0;
  let low = 0;
  let high = rows.stretchFrom.length - 1;
  while (low <= high) {
    const middle = (low + high) >> 1;
    if (rows.stretchFrom[middle]! <= run.startRow) {
      stretch = rows.stretchFrom[middle]!;
      low = middle + 1;
    } else high = middle - 1;
  }
  const fromRow = Math.max(stretch, previous?.stopRow ?? previous?.startRow ?? 0);
  return { fromRow: Math.min(fromRow, run.startRow), toRow: run.startRow };
}

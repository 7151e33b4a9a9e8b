import type { ReadRows } from './pump-rows.ts';
import type { Rise } from './turning-points.ts';

/** So many rows without a rise end a run. */
const SETTLED_ROWS = 3;

/** The first reading high in the band after which the pressure no longer rises by more than noise. */
export function stopOf(rows: ReadRows, rise: Rise): { stopMs: number; stopRow: number; cutOutBar: number } {
  const valley = rows.calmBar[rise.valley]!;
  const swing = rows.calmBar[rise.peak]! - valley;
  const margin = Math.max(2 * rows.calmNoiseBar, rows.quantumBar, 0.01 * swing);
  let row = rise.valley + 1;
  while (row < rise.peak && rows.calmBar[row]! < valley + 0.6 * swing) row++;
  while (row < rise.peak && risesOn(rows, row, Math.min(rise.peak, row + SETTLED_ROWS), margin)) row++;
  return { stopMs: rows.timeMs[row]!, stopRow: row, cutOutBar: rows.calmBar[row]! };
}

function risesOn(rows: ReadRows, row: number, to: number, margin: number): boolean {
  for (let i = row + 1; i <= to; i++) if (rows.calmBar[i]! > rows.calmBar[row]! + margin) return true;
  return false;
}

import type { TrueColumns } from '../house.ts';
import type { PlannedChange } from '../scenario.ts';
import { medianOf } from './averages.ts';

export interface TrueChange {
  readonly atMs: number;
  readonly kind: PlannedChange['kind'];
  readonly fromBar: number;
  readonly toBar: number;
}

const LEAST_DAYS_MS = 3 * 86_400_000;
const STRIDE_S = 30;
const DRAWING_ABOVE_LPM = 3;

/**
 * Sizes of the changes that last at least three days on each side, as medians before and after: of the standing pressure
 * (supply), of the pressure while drawing (property), of the reading (booster, sensor).
 */
export function trueChanges(
  columns: TrueColumns,
  planned: readonly PlannedChange[],
  sensorStepBar: (atMs: number) => number,
): TrueChange[] {
  const endMs = columns.startMs + columns.standingBar.length * 1000;
  const changes: TrueChange[] = [];
  for (const { kind, atMs } of planned) {
    if (atMs - columns.startMs < LEAST_DAYS_MS || endMs - atMs < LEAST_DAYS_MS) continue;
    const at = Math.round((atMs - columns.startMs) / 1000);
    const column =
      kind === 'supply' ? columns.standingBar : kind === 'property' ? whileDrawing(columns) : columns.pressureBar;
    const split = kind === 'property' ? drawingBefore(columns, at) : at;
    const stride = kind === 'property' ? 1 : STRIDE_S;
    const fromBar = medianOf(column, 0, split, stride);
    const toBar = medianOf(column, split, column.length, stride);
    if (fromBar === undefined || toBar === undefined) continue;
    changes.push({ atMs, kind, fromBar, toBar: kind === 'sensor' ? fromBar + sensorStepBar(atMs) : toBar });
  }
  return changes;
}

function whileDrawing(columns: TrueColumns): Float64Array {
  return columns.pressureBar.filter((_, i) => columns.ownLpm[i]! > DRAWING_ABOVE_LPM);
}

function drawingBefore(columns: TrueColumns, at: number): number {
  let count = 0;
  for (let i = 0; i < at; i++) if (columns.ownLpm[i]! > DRAWING_ABOVE_LPM) count++;
  return count;
}

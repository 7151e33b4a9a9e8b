import { median } from '../statistics/quantile.ts';
import type { StandingCells } from '../supply/standing-cells.ts';
import type { StreetEdge } from '../supply/street-edges.ts';
import type { MarkedFault } from './marked-fault.ts';

/** A step of the zero: everything after it reads `stepBar` more than before. */
export interface OffsetStep {
  readonly atMs: number;
  readonly stepBar: number;
  readonly sdBar: number;
  readonly beforeBar: number;
}

/** At slower rates a street's fastest edge (30 s) fits between two rows and can't be told from a step of the zero. */
export const SLOWEST_TELLING_INTERVAL_S = 10;
/** Smaller steps drown in the sensor's accuracy. */
const LEAST_STEP_BAR = 0.08;
const LEAST_DEVIATIONS = 6;
/** And so many times the least fall of a draw: of a smaller one an edge may be seen alone. */
const LEAST_FALLS = 1.25;
/** Share of the step that must lie between two neighbouring rows: a street needs at least 30 s and six rows. */
const LEAST_JUMP_SHARE = 0.85;
/** The level is compared over this much on both sides, and must have moved by the step. */
const LEVEL_MS = 900_000;
const KEPT_SHARE = 0.25;
/** And so must the usual level of the days around it: a long draw that tapers off doesn't last so long. */
const DAY_MS = 86_400_000;
const KEPT_SHARE_OF_DAYS = 0.4;
const KEPT_BAR = 0.03;

/**
 * Steps of the sensor's zero, told from a change of supply: sharp beyond what water in a street can do, no draw's edge,
 * and the level stays where it stepped to.
 */
export function findOffsetSteps(
  edges: readonly StreetEdge[],
  cells: StandingCells,
  intervalS: number,
  noiseBar: number,
  leastFallBar: number,
): OffsetStep[] {
  if (intervalS > SLOWEST_TELLING_INTERVAL_S) return [];
  const found: OffsetStep[] = [];
  for (const edge of edges) {
    const step = edge.afterBar - edge.beforeBar;
    const least = Math.max(LEAST_STEP_BAR, LEAST_DEVIATIONS * edge.sdBar, LEAST_FALLS * leastFallBar);
    if (Math.abs(step) < least) continue;
    if (edge.jumpBar * Math.sign(step) < LEAST_JUMP_SHARE * Math.abs(step) - 3 * noiseBar) continue;
    const before = levelOver(cells, edge.atMs - LEVEL_MS, edge.atMs - cells.stepMs);
    const after = levelOver(cells, edge.atMs + cells.stepMs, edge.atMs + LEVEL_MS);
    if (before === undefined || after === undefined) continue;
    if (Math.abs(after - before - step) > Math.max(KEPT_SHARE * Math.abs(step), KEPT_BAR)) continue;
    const dayBefore = levelOver(cells, edge.atMs - DAY_MS, edge.atMs);
    const dayAfter = levelOver(cells, edge.atMs, edge.atMs + DAY_MS);
    if (dayBefore === undefined || dayAfter === undefined) continue;
    if (Math.abs(dayAfter - dayBefore - step) > Math.max(KEPT_SHARE_OF_DAYS * Math.abs(step), KEPT_BAR)) continue;
    found.push({ atMs: edge.atMs, stepBar: step, sdBar: edge.sdBar, beforeBar: before });
  }
  return found;
}

export function offsetFaults(steps: readonly OffsetStep[]): MarkedFault[] {
  return steps.map(({ atMs, stepBar }) => ({
    kind: 'offset_step',
    startMs: atMs,
    endMs: atMs,
    detail: `every reading after it is ${stepBar > 0 ? 'higher' : 'lower'} by ${Math.abs(stepBar).toFixed(3)} bar`,
  }));
}

/** Brings the cells after each step back to the zero before the first one. In place. */
export function undoOffsetSteps(cells: StandingCells, steps: readonly OffsetStep[]): void {
  for (const { atMs, stepBar, sdBar } of steps) {
    const first = Math.ceil((atMs - cells.startMs) / cells.stepMs - 0.5);
    for (let k = Math.max(0, first); k < cells.count; k++) {
      cells.bar[k]! -= stepBar;
      cells.sdBar[k] = Math.hypot(cells.sdBar[k]!, sdBar);
    }
  }
}

function levelOver(cells: StandingCells, fromMs: number, toMs: number): number | undefined {
  const from = Math.max(0, Math.ceil((fromMs - cells.startMs) / cells.stepMs));
  const to = Math.min(cells.count, Math.ceil((toMs - cells.startMs) / cells.stepMs));
  const known = cells.bar.subarray(from, Math.max(from, to)).filter((value) => !Number.isNaN(value));
  return known.length === 0 ? undefined : median(known);
}

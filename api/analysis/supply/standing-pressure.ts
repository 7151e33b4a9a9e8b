import { CELL, type StandingCells } from './standing-cells.ts';

/** Grid of the document. */
export const STANDING_STEP_MS = 60_000;
/** A point needs this share of its minute. */
const LEAST_KNOWN_SHARE = 0.3;

/** Standing pressure on the document's grid; NaN where it can't be known. Point j is at `startMs + j · stepMs`. */
export interface StandingPressure {
  readonly startMs: number;
  readonly stepMs: number;
  readonly bar: Float64Array;
  readonly sdBar: Float32Array;
  /** 1 where most of the point's minute was carried or bridged through a draw. */
  readonly interpolated: Uint8Array;
}

/** Averages the cells within half a step of each grid point (ends count half, so that a slope adds no bias). */
export function standingPressure(cells: StandingCells): StandingPressure {
  const stepMs = Math.max(STANDING_STEP_MS, cells.stepMs);
  const perPoint = stepMs / cells.stepMs;
  const reach = Math.floor(perPoint / 2);
  const count = Math.floor((cells.count - 1) / perPoint) + 1;
  const bar = new Float64Array(count).fill(Number.NaN);
  const sdBar = new Float32Array(count).fill(Number.NaN);
  const interpolated = new Uint8Array(count);
  for (let j = 0; j < count; j++) {
    const centre = j * perPoint;
    let weight = 0;
    let whole = 0;
    let sum = 0;
    let variance = 0;
    let carriedSd = 0;
    let seen = 0;
    for (let k = centre - reach; k <= centre + reach; k++) {
      const w = reach > 0 && Math.abs(k - centre) === reach ? 0.5 : 1;
      whole += w;
      if (k < 0 || k >= cells.count) continue;
      const value = cells.bar[k]!;
      if (Number.isNaN(value)) continue;
      weight += w;
      sum += w * value;
      if (cells.state[k] === CELL.seen) {
        seen += w;
        variance += w * w * (cells.sdBar[k]! ** 2 - cells.doubtSdBar[k]! ** 2);
        carriedSd += w * cells.doubtSdBar[k]!;
      } else carriedSd += w * cells.sdBar[k]!;
    }
    if (weight < LEAST_KNOWN_SHARE * whole) continue;
    bar[j] = sum / weight;
    // Cells of one draw share their books' error, so theirs add up; those read directly are independent.
    sdBar[j] = Math.sqrt(variance + carriedSd * carriedSd) / weight;
    interpolated[j] = seen < 0.5 * weight ? 1 : 0;
  }
  return { startMs: cells.startMs, stepMs, bar, sdBar, interpolated };
}

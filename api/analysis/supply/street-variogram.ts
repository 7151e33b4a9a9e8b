import { CELL, type StandingCells } from './standing-cells.ts';

/** Lags at which the street's change is measured, in cells: from the next one to twenty minutes at cells of 10 s. */
const LAGS = [1, 2, 4, 8, 16, 32, 64, 120];
/** Fewer pairs of seen cells don't tell a lag. */
const FEWEST_PAIRS = 60;
/** What a street changes by where its log can't tell yet: 0.1 mbar a second, in a straight line. */
const USUAL_BAR_PER_S = 1e-4;

/**
 * Half the mean square of the street's change by lag (semivariogram; Cressie 1993, section 2.4), measured in the log's own
 * seen cells: its autocorrelation, without a level about which it would have to vary.
 */
export interface StreetVariogram {
  /** Ascending. */
  readonly lagMs: readonly number[];
  readonly halfSquareBar2: readonly number[];
}

/** For a log that is too short or too much drawn from to tell. */
export const USUAL_STREET: StreetVariogram = { lagMs: [], halfSquareBar2: [] };

/** The variogram of a log, the readings' own noise taken off. Cost: eight looks at each cell. */
export function streetVariogram({ bar, sdBar, doubtSdBar, state, stepMs, count }: StandingCells): StreetVariogram {
  const lagMs: number[] = [];
  const halfSquareBar2: number[] = [];
  for (const lag of LAGS) {
    let squares = 0;
    let noises = 0;
    let pairs = 0;
    for (let k = lag; k < count; k++) {
      if (state[k] !== CELL.seen || state[k - lag] !== CELL.seen) continue;
      // Cells that may as well have been drawn from tell the account's doubts, not the street.
      if (doubtSdBar[k]! > 0.001 || doubtSdBar[k - lag]! > 0.001) continue;
      squares += (bar[k]! - bar[k - lag]!) ** 2;
      noises += sdBar[k]! ** 2 + sdBar[k - lag]! ** 2;
      pairs++;
    }
    if (pairs < FEWEST_PAIRS) continue;
    // What the cells state as their own error holds some of the street's flicker: no more than half is taken off.
    const half = Math.max(squares / 2, squares - noises) / pairs / 2;
    lagMs.push(lag * stepMs);
    halfSquareBar2.push(Math.max(half, halfSquareBar2.at(-1) ?? 0));
  }
  return { lagMs, halfSquareBar2 };
}

/** Half the mean square of the change over a time: straight between the lags measured, in proportion beyond the last. */
export function halfSquareAt({ lagMs, halfSquareBar2 }: StreetVariogram, ms: number): number {
  const known = lagMs.length;
  if (known === 0) return ((USUAL_BAR_PER_S * ms) / 1000) ** 2 / 2;
  let k = 0;
  while (k < known && lagMs[k]! < ms) k++;
  if (k === known) return (halfSquareBar2[known - 1]! * ms) / lagMs[known - 1]!;
  const [fromMs, from] = k === 0 ? [0, 0] : [lagMs[k - 1]!, halfSquareBar2[k - 1]!];
  return from + ((ms - fromMs) / (lagMs[k]! - fromMs)) * (halfSquareBar2[k]! - from);
}

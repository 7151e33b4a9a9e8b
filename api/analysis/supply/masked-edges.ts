import type { RateTuning } from './rate-tuning.ts';

/** Rows of a level between two edges that makes the second one sure. */
const FEWEST_LEVEL_ROWS = 2;
const MOST_LEVEL_ROWS = 6;
const FEWEST_FAR_ROWS = 4;
const FEWEST_SLOPE_ROWS = 3;
/** A step counts from this many deviations of its own noise on: more than alone, as the best of several places is taken. */
const LEAST_DEVIATIONS = 5;
/** And from somewhat more than the least step of an edge that stands alone. */
const LEAST_STEPS = 1.3;
/** A level, not the slow turn of one hand: what its rows differ by, as a share of the step. */
const MOST_SPREAD_SHARE = 0.3;

/**
 * Smaller edges a few rows before or after a great one, which hides them from windows that reach across both: a tap opened
 * while another was being opened. Rows of the further edges, in no order.
 */
export function maskedEdges(
  pressureBar: Float64Array,
  from: number,
  to: number,
  edges: readonly number[],
  tuning: RateTuning,
  noiseBar: number,
  leastStepBar: (row: number) => number,
): number[] {
  const g = tuning.transitionRows;
  // Where two rows make a level, none are left to tell the street's slope.
  if (tuning.levelRows < FEWEST_SLOPE_ROWS) return [];
  const fewestFar = Math.min(FEWEST_FAR_ROWS, tuning.levelRows);
  const found: number[] = [];
  edges.forEach((row, k) => {
    const before = besideEdge(row - 1 - g, -1, k > 0 ? edges[k - 1]! + g : from);
    if (before !== undefined) found.push(before + 1);
    const after = besideEdge(row + g, 1, k + 1 < edges.length ? edges[k + 1]! - 1 - g : to - 1);
    if (after !== undefined) found.push(after);
  });
  return found;

  /** Of levels of a few rows from `near` outwards, the end of the one that differs most clearly from the rows beyond. */
  function besideEdge(near: number, side: -1 | 1, limit: number): number | undefined {
    let best: number | undefined;
    let clearest = LEAST_DEVIATIONS;
    for (let n = FEWEST_LEVEL_ROWS; n <= MOST_LEVEL_ROWS; n++) {
      const edge = near + side * n;
      const farRows = Math.min(tuning.levelRows, side * (limit - edge) - g + 1);
      if (farRows < fewestFar) break;
      let sum = 0;
      let least = Number.POSITIVE_INFINITY;
      let most = Number.NEGATIVE_INFINITY;
      for (let m = 0; m < n; m++) {
        const bar = pressureBar[near + side * m]!;
        sum += bar;
        least = Math.min(least, bar);
        most = Math.max(most, bar);
      }
      const half = farRows >> 1;
      const inner = meanOutwards(edge + side * g, side, half);
      const outer = meanOutwards(edge + side * (g + half), side, farRows - half);
      const far = (half * inner + (farRows - half) * outer) / farRows;
      // What the street's own slope explains is no edge.
      const rate = (inner - outer) / (farRows / 2);
      const raw = sum / n - far;
      const explained = Math.max(0, rate * Math.sign(raw)) * ((n + farRows) / 2 + g);
      const step = Math.abs(raw) - explained;
      if (step < LEAST_STEPS * leastStepBar(edge) || most - least > MOST_SPREAD_SHARE * step + 3.5 * noiseBar) continue;
      const deviations = step / (noiseBar * Math.sqrt(1 / n + 1 / farRows));
      if (deviations <= clearest) continue;
      clearest = deviations;
      best = edge;
    }
    return best;
  }

  function meanOutwards(start: number, side: -1 | 1, rows: number): number {
    let sum = 0;
    for (let m = 0; m < rows; m++) sum += pressureBar[start + side * m]!;
    return sum / rows;
  }
}

import { CELL, type StandingCells } from './standing-cells.ts';
import { halfSquareAt, type StreetVariogram } from './street-variogram.ts';

/** Nothing is assumed inside a gap longer than this. */
export const LONGEST_BRIDGED_GAP_MS = 120_000;
/** A draw without books is bridged up to this length; the street may move further in a longer one. */
const LONGEST_BRIDGED_DRAW_MS = 1_200_000;
/** A bridge across a fall or rise is less sure than the street's usual change: share of it, one deviation. */
const STEEP_SHARE = 0.1;

/**
 * Fills short stretches that aren't known by what the street does: ordinary kriging between the two cells beside them under
 * its own variogram γ (Cressie 1993, section 3.2). With two known points at distances a and b the weight of the first is
 * ½ + (γ(b) − γ(a))/(2γ(a + b)): a straight line where changes add up without end, nearer to the mean of both where the street
 * comes back to its level; the variance is 2(w₁γ(a) + w₂γ(b)) − 2w₁w₂γ(a + b).
 */
export function bridgeShortStretches(cells: StandingCells, street: StreetVariogram): void {
  const { bar, sdBar, state, stepMs, count } = cells;
  for (let from = 0; from < count; ) {
    if (state[from] !== CELL.absent && state[from] !== CELL.hidden) {
      from++;
      continue;
    }
    let to = from;
    let absent = 0;
    for (; to < count && (state[to] === CELL.absent || state[to] === CELL.hidden); to++) {
      absent = state[to] === CELL.absent ? absent + 1 : absent;
    }
    const length = to - from;
    const short = absent * stepMs <= LONGEST_BRIDGED_GAP_MS && length * stepMs <= LONGEST_BRIDGED_DRAW_MS;
    if (short && from > 0 && to < count) {
      const [before, after] = [bar[from - 1]!, bar[to]!];
      const [beforeSd, afterSd] = [sdBar[from - 1]!, sdBar[to]!];
      const whole = halfSquareAt(street, (length + 1) * stepMs);
      for (let k = from; k < to; k++) {
        const a = halfSquareAt(street, (k - from + 1) * stepMs);
        const b = halfSquareAt(street, (to - k) * stepMs);
        const first = whole > 0 ? Math.min(1, Math.max(0, 0.5 + (b - a) / (2 * whole))) : 0.5;
        const second = 1 - first;
        const variance = Math.max(0, 2 * (first * a + second * b) - 2 * first * second * whole);
        bar[k] = first * before + second * after;
        sdBar[k] = Math.sqrt(
          variance +
            (first * beforeSd) ** 2 +
            (second * afterSd) ** 2 +
            (STEEP_SHARE * (after - before)) ** 2 * 4 * first * second,
        );
        state[k] = CELL.bridged;
      }
    }
    from = to;
  }
}

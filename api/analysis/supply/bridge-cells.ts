import { CELL, type StandingCells } from './standing-cells.ts';

/** Nothing is assumed inside a gap longer than this. */
export const LONGEST_BRIDGED_GAP_MS = 120_000;
/** A draw without books is bridged up to this length; the street may move further in a longer one. */
const LONGEST_BRIDGED_DRAW_MS = 1_200_000;
/** One deviation of what the street may do in the middle of a bridge, per second to its nearer end. */
const STREET_BAR_PER_S = 1e-4;

/** Fills short stretches that aren't known in a straight line between what is known on both sides, with a growing deviation. */
export function bridgeShortStretches(cells: StandingCells): void {
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
      const before = bar[from - 1]!;
      const after = bar[to]!;
      const base = Math.max(sdBar[from - 1]!, sdBar[to]!);
      for (let k = from; k < to; k++) {
        const share = (k - from + 1) / (length + 1);
        const away = (Math.min(k - from + 1, to - k) * stepMs) / 1000;
        bar[k] = before + share * (after - before);
        sdBar[k] = Math.hypot(base, away * STREET_BAR_PER_S, 0.1 * Math.abs(after - before));
        state[k] = CELL.bridged;
      }
    }
    from = to;
  }
}

import type { ReadRows } from './pump-rows.ts';
import type { SwitchLevels } from './switch-levels.ts';
import type { Rise } from './turning-points.ts';

/** Rows before the turn that the falling line may use: a tap that opens in between bends it. */
const BEFORE_ROWS = 16;
const FEWEST_BEFORE_ROWS = 3;
/** The rising line is drawn until the pressure has come this far out of the noise, within these numbers of rows. */
const CLEAR_IN_NOISE = 8;
const FEWEST_AFTER_ROWS = 4;
const MOST_AFTER_ROWS = 40;
/** With fewer rows than this at the bottom, as near it as noise allows, single readings show the turn. */
const WIDE_BOTTOM_ROWS = 4;
const LOW_IN_NOISE = 2.5;
/** A narrow switch's quick turns stand too little out of the noise for two lines. */
const CLEAR_SWING_IN_NOISE = 15;
/** How far from the lowest row the turn may lie. */
const REACH_ROWS = 25;
/** A switch's own scatter, as part of its band: spinning up under a draw carries the turn below its level. */
const SWITCH_SCATTER_SHARE = 0.03;

/**
 * Where the pressure turns from falling to rising: the row at which two straight lines that meet fit the readings best
 * (least squares, the meeting point drawn towards cut-in by the switch's own scatter). Under noise the last low reading
 * comes seconds late on a slow rise. `roughRow` is the turn as single readings show it.
 */
export function hingeOnset(rows: ReadRows, rise: Rise, roughRow: number, levels: SwitchLevels): number {
  const { calmBar, noiseBar } = rows;
  const valley = calmBar[rise.valley]!;
  const swingBar = calmBar[rise.peak]! - valley;
  if (swingBar < CLEAR_SWING_IN_NOISE * noiseBar || bottomRows(rows, rise, roughRow) < WIDE_BOTTOM_ROWS)
    return roughRow;
  const clear = valley + CLEAR_IN_NOISE * noiseBar;
  let to = Math.max(roughRow, rise.valley) + 1;
  const furthest = Math.min(rise.peak, to + MOST_AFTER_ROWS);
  while (to < furthest && calmBar[to]! < clear) to++;
  to = Math.min(rise.peak, Math.max(to, roughRow + FEWEST_AFTER_ROWS));
  // Of a long flat bottom the lowest row says nothing: there the turn is sought about the last low ones.
  const about = Math.max(rise.valley, roughRow - REACH_ROWS);
  const earliest = Math.max(rise.fromPeak, about - REACH_ROWS);
  const scatterBar = Math.max(SWITCH_SCATTER_SHARE * (levels.cutOutBar - levels.cutInBar), 0.25 * noiseBar);
  const levelWeight = (noiseBar / scatterBar) ** 2;
  const from = Math.max(rise.fromPeak, Math.min(about, roughRow) - REACH_ROWS - BEFORE_ROWS);
  let best = roughRow;
  let bestCost = Number.POSITIVE_INFINITY;
  for (let row = Math.max(earliest, from + FEWEST_BEFORE_ROWS); row <= to - FEWEST_AFTER_ROWS; row++) {
    const cost = hingeCost(rows, row, { from, to }, levels.cutInBar, levelWeight);
    if (cost < bestCost) {
      bestCost = cost;
      best = row;
    }
  }
  return best;
}

/** Rows about the lowest one that lie no further above it than noise may put them. */
function bottomRows({ bar, calmBar, noiseBar }: ReadRows, rise: Rise, roughRow: number): number {
  const low = calmBar[rise.valley]! + LOW_IN_NOISE * noiseBar;
  let from = rise.valley;
  while (from > rise.fromPeak && bar[from - 1]! <= low) from--;
  return Math.max(rise.valley, roughRow) - from + 1;
}

/** Misfit of two lines that meet at `row`, in squared noises beyond what as many readings of pure noise would show. */
function hingeCost(
  rows: ReadRows,
  row: number,
  span: { readonly from: number; readonly to: number },
  cutInBar: number,
  levelWeight: number,
): number {
  const { timeMs, bar, noiseBar } = rows;
  const first = Math.max(span.from, row - BEFORE_ROWS);
  const zeroMs = timeMs[row]!;
  // Pressures are taken from cut-in, times from the turn: before it (b) and after it (a).
  let sum = 0;
  let xB = 0;
  let xxB = 0;
  let xyB = 0;
  let xA = 0;
  let xxA = 0;
  let xyA = 0;
  for (let i = first; i <= span.to; i++) {
    const x = (timeMs[i]! - zeroMs) / 1000;
    const y = bar[i]! - cutInBar;
    sum += y;
    if (i < row) {
      xB += x;
      xxB += x * x;
      xyB += x * y;
    } else {
      xA += x;
      xxA += x * x;
      xyA += x * y;
    }
  }
  const count = span.to - first + 1;
  const levelIf = (falls: boolean): number =>
    (sum - (falls ? (xB * xyB) / xxB : 0) - (xA * xyA) / xxA) /
    (count + levelWeight - (falls ? (xB * xB) / xxB : 0) - (xA * xA) / xxA);
  let level = levelIf(true);
  let fall = (xyB - level * xB) / xxB;
  if (!(fall < 0)) {
    level = levelIf(false);
    fall = 0;
  }
  const climb = (xyA - level * xA) / xxA;
  if (!(climb > 0)) return Number.POSITIVE_INFINITY;
  let squares = 0;
  for (let i = first; i <= span.to; i++) {
    const x = (timeMs[i]! - zeroMs) / 1000;
    squares += (bar[i]! - cutInBar - level - (i < row ? fall : climb) * x) ** 2;
  }
  return (squares + levelWeight * level * level) / (noiseBar * noiseBar) - count;
}

import type { RateTuning } from './rate-tuning.ts';
import type { LocalFlicker } from './street-flicker.ts';

/** Sharp steps of one block with the levels on both sides, brought to the edge. Columns of one length. */
export interface Edges {
  readonly count: number;
  /** First row after the edge. */
  readonly row: Int32Array;
  readonly beforeBar: Float64Array;
  readonly afterBar: Float64Array;
  /** One standard deviation of the step, from the noise of its two levels. */
  readonly sdBar: Float64Array;
  /** What the street and the noise do about the edge anyway, between means of the rows that its levels are taken from. */
  readonly flickerBar: Float64Array;
}

/** A step that its own levels don't bear out, or that the street makes all the time, is no edge. */
const LEAST_DEVIATIONS = 2.5;
const LEAST_BEYOND_STREET = 2.2;

/** A street is never taken to be quieter than this. */
export const QUIETEST_STREET_BAR = 0.003;

/** A step in deviations, beyond twice what the street does in a few rows anyway. */
export function edgeBeyondStreet(stepBar: number, flickerBar: number): number {
  return Math.max(0, stepBar - 2 * flickerBar) / Math.max(flickerBar, QUIETEST_STREET_BAR);
}

/** A hand or a float may take so many rows at 1 Hz beyond the edge itself, told from the level of some rows further out. */
const MOST_TURN_ROWS = 7;
const TURN_LEVEL_ROWS = 4;
/** A row turns where it lies this far from the rows further out: in deviations, in bar, and as a share of the step so far. */
const TURN_DEVIATIONS = 2.5;
const TURN_BAR = 0.006;
const TURN_SHARE = 0.06;
/** Rows of a block that tells the slope beside a level, as a share of the level's. */
const SLOPE_BLOCK_SHARE = 0.5;

/** Levels before and after every edge, from rows up to the next edge. Edges too small for their noise are left out. */
export function edgeLevels(
  pressureBar: Float64Array,
  from: number,
  to: number,
  rows: readonly number[],
  tuning: RateTuning,
  noiseBar: number,
  flicker: LocalFlicker,
): Edges {
  let kept = rows;
  for (let round = 0; round < 3; round++) {
    const edges = levelsOf(pressureBar, from, to, kept, tuning, noiseBar, flicker);
    const strong = kept.filter((_, k) => {
      const step = Math.abs(edges.afterBar[k]! - edges.beforeBar[k]!);
      return (
        edgeBeyondStreet(step, edges.flickerBar[k]!) >= LEAST_BEYOND_STREET &&
        step >= LEAST_DEVIATIONS * edges.sdBar[k]!
      );
    });
    if (strong.length === kept.length) return edges;
    kept = strong;
  }
  return levelsOf(pressureBar, from, to, kept, tuning, noiseBar, flicker);
}

function levelsOf(
  pressureBar: Float64Array,
  from: number,
  to: number,
  rows: readonly number[],
  tuning: RateTuning,
  noiseBar: number,
  flicker: LocalFlicker,
): Edges {
  const count = rows.length;
  const edges = {
    count,
    row: Int32Array.from(rows),
    beforeBar: new Float64Array(count),
    afterBar: new Float64Array(count),
    sdBar: new Float64Array(count),
    flickerBar: new Float64Array(count),
  };
  const g = tuning.transitionRows;
  const turnBar = Math.max(TURN_DEVIATIONS * noiseBar, TURN_BAR);
  /** Where the slow turn of a hand beside an edge is over: rows that the further ones lie beyond, away from the edge. */
  const settled = (near: number, side: -1 | 1, limit: number, flickerBar: number): number => {
    if (g === 0) return near;
    let at = near;
    for (; side * (limit - at) > TURN_LEVEL_ROWS; at += side) {
      // What turns on and on is the street.
      if (Math.abs(at - near) > MOST_TURN_ROWS) return near;
      // A row counts as turning where it lies between the level on the far side of the edge and the rows further out.
      const row = side > 0 ? at : at - 1;
      let further = 0;
      for (let m = 1; m <= TURN_LEVEL_ROWS; m++) further += pressureBar[row + side * m]!;
      const turn = further / TURN_LEVEL_ROWS - pressureBar[row]!;
      const across = pressureBar[row]! - pressureBar[near - side * (2 * g) - (side > 0 ? 0 : 1)]!;
      if (Math.abs(turn) < Math.max(turnBar, flickerBar, TURN_SHARE * Math.abs(across)) || turn * across < 0) return at;
    }
    // What still turns at the next edge shows no level there.
    return Math.abs(at - near) > MOST_TURN_ROWS / 2 ? near : at;
  };
  for (let k = 0; k < count; k++) {
    const row = rows[k]!;
    const previous = k > 0 ? rows[k - 1]! : from;
    const next = k + 1 < count ? rows[k + 1]! : to;
    const calm = flicker.calmest(row);
    const settle = previous === from ? 0 : g;
    // The row just before an edge may be caught half way; where there is no other, it has to do.
    const slow = g === 0 ? caughtHalfWay(pressureBar, row, previous, next, Math.max(noiseBar, calm.bar)) : 0;
    const closest = row - g > previous + settle ? row - g : row;
    const beforeEnd = slow < 0 ? row - 1 : settled(closest, -1, previous + settle, calm.bar);
    const beforeStart = Math.min(beforeEnd - 1, Math.max(previous + settle, beforeEnd - calm.rows));
    const afterStart = slow > 0 ? row + 1 : settled(Math.min(row + g, next - 1), 1, next - g, calm.bar);
    const afterEnd = Math.max(afterStart + 1, Math.min(next - (next === to ? 0 : g), afterStart + calm.rows));
    const before = levelAt(pressureBar, beforeStart, beforeEnd);
    const after = levelAt(pressureBar, afterStart, afterEnd);
    // Without the street's slope a ramp of a few seconds would pass for a tap.
    const slopeRows = Math.max(tuning.slopeBlockRows, Math.round(SLOPE_BLOCK_SHARE * calm.rows));
    // At slow rates the row next to an edge is its level: later rows' slope, back the other way, began after that row.
    const away = HALF_WAY_DEVIATIONS * Math.max(noiseBar, calm.bar);
    const crossing = Math.sign(after.bar - before.bar);
    const overshoots = (rate: number, bar: number, middle: number, near: number, side: -1 | 1) =>
      g === 0 && side * crossing * (pressureBar[near]! - bar - rate * (near - middle)) < -away;
    const beforeMiddle = (beforeStart + beforeEnd - 1) / 2;
    const afterMiddle = (afterStart + afterEnd - 1) / 2;
    const steadyBefore = steadyRate(pressureBar, beforeEnd - 1, -1, previous + settle, slopeRows, noiseBar);
    const steadyAfter = steadyRate(pressureBar, afterStart, 1, next - g - 1, slopeRows, noiseBar);
    const beforeRate = overshoots(steadyBefore, before.bar, beforeMiddle, beforeEnd - 1, -1) ? 0 : steadyBefore;
    const afterRate = overshoots(steadyAfter, after.bar, afterMiddle, afterStart, 1) ? 0 : steadyAfter;
    edges.beforeBar[k] = before.bar + beforeRate * (row - 0.5 - beforeMiddle);
    edges.afterBar[k] = after.bar + afterRate * (row - 0.5 - afterMiddle);
    // Two lines that meet right here are a street that begins or ends to fall: a bend, and no step.
    const meetRows = (edges.afterBar[k]! - edges.beforeBar[k]!) / (beforeRate - afterRate);
    const isBend =
      Math.abs(meetRows) <= tuning.shortRows + g + 0.5 &&
      (Math.abs(beforeRate) > Math.abs(afterRate)
        ? lastingRamp(pressureBar, beforeEnd - 1, -1, previous + settle, tuning, beforeRate)
        : lastingRamp(pressureBar, afterStart, 1, next - g - 1, tuning, afterRate));
    const step = edges.afterBar[k]! - edges.beforeBar[k]!;
    if (
      isBend ||
      !isSharp(pressureBar, [beforeStart, beforeEnd], [afterStart, afterEnd], step, noiseBar, tuning.sharpRows)
    )
      edges.afterBar[k] = edges.beforeBar[k]!;
    // The flicker holds the noise of as many rows on both sides; fewer leave more of it.
    edges.flickerBar[k] = calm.bar;
    const further = Math.max(0, before.factor + after.factor - 2 / calm.rows);
    edges.sdBar[k] = Math.sqrt(noiseBar * noiseBar * further + calm.bar ** 2);
  }
  return edges;
}

/** Share of a step that the rows next to it must show, less so many deviations of their difference. */
const SHARP_SHARE = 0.5;
const SHARP_DEVIATIONS = 2;

/**
 * Whether the rows on either side of an edge step as its levels do. Where they step less, or the other way, the
 * levels were taken from a ramp, or brought here along slopes of one that bends: the street moved, and nothing stepped.
 */
function isSharp(
  pressureBar: Float64Array,
  [beforeStart, beforeEnd]: readonly [number, number],
  [afterStart, afterEnd]: readonly [number, number],
  stepBar: number,
  noiseBar: number,
  rows: number,
): boolean {
  if (rows === 0) return true;
  const before = levelAt(pressureBar, Math.max(beforeStart, beforeEnd - rows), beforeEnd);
  const after = levelAt(pressureBar, afterStart, Math.min(afterEnd, afterStart + rows));
  const shown = (after.bar - before.bar) * Math.sign(stepBar);
  return shown >= SHARP_SHARE * Math.abs(stepBar) - SHARP_DEVIATIONS * noiseBar;
}

/** A row is half way only if it is away from both levels by this many deviations. */
const HALF_WAY_DEVIATIONS = 4;

/**
 * At slow rates the row at an edge, or the one before it, may have been read while the tap was turned: it lies between two
 * levels, each of which two rows show. 1 for the row at the edge, −1 for the one before it, 0 where neither is.
 * @param previous row of the edge before, `next` of the one after
 */
function caughtHalfWay(
  pressureBar: Float64Array,
  row: number,
  previous: number,
  next: number,
  deviationBar: number,
): -1 | 0 | 1 {
  const away = HALF_WAY_DEVIATIONS * deviationBar;
  const level = (a: number, b: number) => Math.abs(pressureBar[a]! - pressureBar[b]!) <= away;
  for (const side of [1, -1] as const) {
    const between = side > 0 ? row : row - 1;
    // In a movement over some rows the edge before is the row before: what was there is told by it alone.
    const goesOn = side > 0 && previous === between - 1;
    if ((!goesOn && between - 2 < previous) || between + 2 >= next) continue;
    const before = pressureBar[between - 1]!;
    const here = pressureBar[between]!;
    const after = pressureBar[between + 1]!;
    if ((here - before) * (after - here) <= 0 || level(between - 1, between) || level(between, between + 1)) continue;
    if ((goesOn || level(between - 2, between - 1)) && level(between + 1, between + 2)) return side;
  }
  return 0;
}

/** Share of a ramp's first rate at which it must go on to be a street's, and not a valve's that shuts. */
const RAMP_KEPT_SHARE = 0.6;

/** Whether a steady rate goes on for as long again: a street's edges last at least 30 s, a cistern's valve may shut in ten. */
function lastingRamp(
  pressureBar: Float64Array,
  near: number,
  side: -1 | 1,
  limit: number,
  { slopeBlockRows: rows, transitionRows }: RateTuning,
  rate: number,
): boolean {
  // At slower rates a tap and the end of a street's edge look alike.
  if (transitionRows === 0) return false;
  if (side * (limit - near) < 6 * rows - 1) return false;
  let inner = 0;
  let outer = 0;
  for (let m = 0; m < rows; m++) {
    inner += pressureBar[near + side * (2 * rows + m)]!;
    outer += pressureBar[near + side * (5 * rows + m)]!;
  }
  return ((side * (outer - inner)) / (3 * rows * rows)) * Math.sign(rate) >= RAMP_KEPT_SHARE * Math.abs(rate);
}

/** Mean of rows [a, b), and its variance in units of a single reading's. */
function levelAt(pressureBar: Float64Array, a: number, b: number): { bar: number; factor: number } {
  let sum = 0;
  for (let i = a; i < b; i++) sum += pressureBar[i]!;
  const n = b - a;
  return { bar: sum / n, factor: 1 / n };
}

/** A slope this many deviations of its own noise on both blocks is the street's beyond doubt. */
const SURE_SLOPE_DEVIATIONS = 3;
/** Rows of a block that still tells a slope. */
const FEWEST_SLOPE_ROWS = 2;

/**
 * The street's own slope per row beside an edge, from three short blocks of rows away from it: the lesser of the two
 * rates between them, nought where they disagree in direction; where both are beyond doubt, the near one bent on as the
 * two bend, so that the steep middle of a ramp leaves no step.
 */
function steadyRate(
  pressureBar: Float64Array,
  near: number,
  side: -1 | 1,
  limit: number,
  blockRows: number,
  noiseBar: number,
  onlySure = false,
): number {
  const within = side * (limit - near) + 1;
  if (within < 3 * blockRows) {
    // Fewer rows tell a steep ramp all the same, and nothing less.
    const fewer = Math.floor(within / 3);
    return fewer < FEWEST_SLOPE_ROWS ? 0 : steadyRate(pressureBar, near, side, limit, fewer, noiseBar, true);
  }
  const block = (index: number): number => {
    let sum = 0;
    for (let m = 0; m < blockRows; m++) sum += pressureBar[near + side * (index * blockRows + m)]!;
    return sum / blockRows;
  };
  const middle = block(1);
  const inner = (side * (middle - block(0))) / blockRows;
  const outer = (side * (block(2) - middle)) / blockRows;
  if (inner * outer <= 0) return 0;
  const sure = (SURE_SLOPE_DEVIATIONS * noiseBar * Math.sqrt(2 / blockRows)) / blockRows;
  if (Math.abs(inner) > sure && Math.abs(outer) > sure) return inner + 0.45 * (inner - outer);
  if (onlySure) return 0;
  return Math.abs(inner) < Math.abs(outer) ? inner : outer;
}

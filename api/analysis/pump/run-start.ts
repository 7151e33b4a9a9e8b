import { hingeOnset } from './hinge-onset.ts';
import type { ReadRows } from './pump-rows.ts';
import type { SwitchLevels } from './switch-levels.ts';
import type { Rise } from './turning-points.ts';

/** Readings further apart than this seldom catch the turns themselves: swings look smaller, valleys lie higher. */
export const COARSE_MS = 4_000;
/** How far above cut-in, as part of the band, a valley may lie and still be the switch's doing. */
const CUT_IN_SHARE = 0.12;
/** Longest time a pump takes to show in the pressure after its switch has closed. Common practice, no source. */
const SPIN_UP_MS = 8_000;
/** Noise above this part of a swing hides where a slow rise begins. */
const LOUD_SHARE = 0.004;
/** A valley this far below its calmed reading was swallowed; noise alone goes half as far. */
const SWALLOWED_IN_NOISE = 6;
/** A reading up to so many noises above a sharp valley is still low; above the level of many low ones, so many. */
const LOW_IN_NOISE = 2.5;
const LEVEL_IN_NOISE = 2;
/** Readings within so many noises of the lowest are of one level with it; from so many on the lowest is far below it. */
const BOTTOM_IN_NOISE = 5;
const MANY_AT_BOTTOM = 8;
/** Euler's constant, the mean of Gumbel's law. */
const EULER = 0.5772;

/** How far above cut-in a valley may lie and still be the switch's doing, in bar. */
export function levelTolerance(rows: ReadRows, levels: SwitchLevels): number {
  const band = levels.cutOutBar - levels.cutInBar;
  return Math.max(CUT_IN_SHARE * band, 2 * rows.noiseBar, rows.quantumBar);
}

/**
 * The last low reading before the rise; but where a draw outruns the pump and holds the pressure well below cut-in,
 * the reading at which it fell past cut-in: the switch closed there.
 */
export function startRowOf(rows: ReadRows, rise: Rise, levels: SwitchLevels): number {
  const valley = valleyBar(rows, rise.valley);
  const swing = rows.bar[rise.peak]! - valley;
  const high = valley + 0.3 * swing;
  let row = rise.valley;
  while (row < rise.peak && rows.bar[row]! < high) row++;
  const low = valley + Math.max(bottomBar(rows, rise, row, valley), 1.2 * rows.quantumBar);
  while (row > rise.valley && rows.bar[row]! > low) row--;
  const loud = rows.intervalMs <= COARSE_MS && rows.noiseBar > LOUD_SHARE * swing;
  const onset = loud ? hingeOnset(rows, rise, row, levels) : row;
  const past = levels.cutInBar - levelTolerance(rows, levels);
  if (valley >= past) return onset;
  let fell = rise.valley;
  while (fell > rise.fromPeak && rows.calmBar[fell]! < past) fell--;
  while (fell > rise.fromPeak && rows.calmBar[fell]! < levels.cutInBar) fell--;
  const spinUp = Math.max(SPIN_UP_MS, 2.5 * rows.intervalMs);
  return rows.timeMs[onset]! - rows.timeMs[fell]! > spinUp ? fell : onset;
}

/**
 * How far above the valley a reading still belongs to the bottom, in bar. The valley is the lowest of all readings there: of
 * many, as a slow flat decay makes them, it lies far below their level, and the last of them well above it.
 */
function bottomBar(rows: ReadRows, { fromPeak }: Rise, to: number, valley: number): number {
  const { bar, noiseBar, calmNoiseBar } = rows;
  let count = 0;
  for (let row = fromPeak; row < to; row++) if (bar[row]! <= valley + BOTTOM_IN_NOISE * noiseBar) count++;
  if (count < MANY_AT_BOTTOM) return LOW_IN_NOISE * noiseBar;
  return LEVEL_IN_NOISE * noiseBar + lowestOfMany(count) * calmNoiseBar;
}

/** How far the lowest of many normal readings lies below their mean on average, in deviations (mean of Gumbel's limit law, from memory). */
function lowestOfMany(count: number): number {
  const root = Math.sqrt(2 * Math.log(count));
  return root - (Math.log(Math.log(count)) + Math.log(4 * Math.PI)) / (2 * root) + EULER / root;
}

/** The calmed valley; the raw one where calming has swallowed a dip of a row or two, as a pump without a vessel makes it. */
function valleyBar({ bar, calmBar, noiseBar }: ReadRows, row: number): number {
  return calmBar[row]! - bar[row]! > SWALLOWED_IN_NOISE * noiseBar ? bar[row]! : calmBar[row]!;
}

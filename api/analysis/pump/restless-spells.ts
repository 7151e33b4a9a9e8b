import { median } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';
import type { SwitchLevels } from './switch-levels.ts';

/** A spell in which coarse readings don't rest: somebody draws, and the pump comes and goes. */
export interface Spell {
  readonly fromRow: number;
  readonly toRow: number;
  /** Share of its readings that are turning points. */
  readonly turning: number;
  /**
   * Whether its first step fits a vessel that empties as slowly as the spell's later readings fall. From a rest high in
   * the band no such vessel is refilled at once, nor falls further in the first interval than in those that follow.
   */
  readonly beginning: 'explained' | 'unexplained' | 'untold';
}

/** So many quiet rows end a spell; one with fewer steps than this isn't looked at. */
const QUIET_ROWS = 2;
const FEWEST_STEPS = 4;
/** With a smaller share of turning points the readings creep: their usual fall tells how fast the vessel empties. */
const CREEPING_SHARE = 0.45;
const FALLS_FOR_USUAL = 2;
/** A rest at least so high in the band, as part of it, or so many usual falls above cut-in, isn't at the switch's level. */
const HIGH_SHARE = 0.4;
const CLEAR_FALLS = 1.5;
const CLEAR_SHARE = 0.1;
/** A first fall larger than the usual one by this factor isn't the same draw's. */
const LARGER = 1.5;
/** A rise within one interval of this part of the band or more is a pump's, not a ripple. */
const RISE_SHARE = 0.25;
/** A refill without a draw ends this near cut-out, as part of the band, and has risen by the other part. */
const NEAR_TOP_SHARE = 0.3;
const REFILL_SHARE = 0.4;
/** Before it two intervals take no more than this part of the band each: readings at random moments of quick cycles jump. */
const SLOW_FALL_SHARE = 0.25;

interface Span {
  readonly fromRow: number;
  readonly toRow: number;
}

/** Spells of at least four steps within a stretch; a step of less than `leastBar` is rest. Linear time. */
export function spellsOf(rows: PumpRows, span: Span, leastBar: number, levels: SwitchLevels): Spell[] {
  const { bar } = rows;
  const spells: Spell[] = [];
  const moves = (row: number): boolean => Math.abs(bar[row]! - bar[row - 1]!) >= leastBar;
  const end = span.toRow - 1;
  let row = span.fromRow + 1;
  while (row < end) {
    if (!moves(row)) {
      row++;
      continue;
    }
    const first = row;
    let last = row;
    let quiet = 0;
    for (; row < end && quiet < QUIET_ROWS; row++) {
      if (moves(row)) {
        quiet = 0;
        last = row;
      } else quiet++;
    }
    if (last - first + 1 < FEWEST_STEPS) continue;
    let turns = 0;
    for (let k = first; k < last; k++) if ((bar[k]! - bar[k - 1]!) * (bar[k + 1]! - bar[k]!) < 0) turns++;
    const turning = turns / (last - first);
    const rested = first - QUIET_ROWS > span.fromRow && !moves(first - 1) && !moves(first - 2);
    const beginning = rested ? beginningOf(rows, first, last, turning, leastBar, levels) : 'untold';
    spells.push({ fromRow: first, toRow: last, turning, beginning });
  }
  return spells;
}

function beginningOf(
  { bar, noiseBar }: PumpRows,
  first: number,
  last: number,
  turning: number,
  leastBar: number,
  { cutInBar, cutOutBar }: SwitchLevels,
): Spell['beginning'] {
  const bandBar = cutOutBar - cutInBar;
  const falls: number[] = [];
  for (let k = first + 1; k < last; k++) if (bar[k - 1]! - bar[k]! >= leastBar) falls.push(bar[k - 1]! - bar[k]!);
  const creeps = turning < CREEPING_SHARE && falls.length >= FALLS_FOR_USUAL;
  const usualBar = creeps ? median(falls) : 0;
  const above = bar[first - 1]! - cutInBar;
  if (above <= Math.max(HIGH_SHARE * bandBar, creeps ? CLEAR_FALLS * usualBar + CLEAR_SHARE * bandBar : 0))
    return 'untold';
  const step = bar[first]! - bar[first - 1]!;
  return step > 0 || (creeps && -step > LARGER * usualBar + 2 * noiseBar) ? 'unexplained' : 'explained';
}

/**
 * Tells of each rise after a rest or a fall, itself followed by one, whether a reading fell into it: of fills that last a
 * part of the interval, readings catch that part midway. Linear time.
 */
export function risesCaught(
  { bar }: PumpRows,
  span: Span,
  leastBar: number,
  bandBar: number,
  tell: (row: number, caught: boolean) => void,
): void {
  const rises = (row: number): boolean => bar[row]! - bar[row - 1]! >= leastBar;
  for (let row = span.fromRow + 3; row + 3 < span.toRow; row++) {
    if (bar[row]! - bar[row - 1]! < RISE_SHARE * bandBar || rises(row - 1) || rises(row - 2)) continue;
    if (rises(row + 2)) continue;
    if (!rises(row + 1)) tell(row, false);
    else if (!rises(row + 3)) tell(row, true);
  }
}

/**
 * Tells of each refill that ends in a rest near cut-out, with nobody drawing, whether a reading fell into it: while water is
 * drawn a fall eats the rise that went before, and fills look quicker than they are. Linear time.
 */
export function refillsCaught(
  { bar }: PumpRows,
  span: Span,
  leastBar: number,
  { cutInBar, cutOutBar }: SwitchLevels,
  tell: (row: number, caught: boolean) => void,
): void {
  const bandBar = cutOutBar - cutInBar;
  const rests = (row: number): boolean => Math.abs(bar[row]! - bar[row - 1]!) < leastBar;
  const sinks = (row: number): boolean => {
    const fall = bar[row - 1]! - bar[row]!;
    return fall > -leastBar && fall < SLOW_FALL_SHARE * bandBar;
  };
  for (let top = span.fromRow + 4; top + 2 < span.toRow; top++) {
    if (bar[top]! < cutOutBar - NEAR_TOP_SHARE * bandBar || !rests(top + 1) || !rests(top + 2)) continue;
    const last = bar[top]! - bar[top - 1]!;
    const before = bar[top - 1]! - bar[top - 2]!;
    const caught = before >= leastBar;
    if (last < leastBar || last + (caught ? before : 0) < REFILL_SHARE * bandBar) continue;
    const low = caught ? top - 2 : top - 1;
    if (sinks(low) && sinks(low - 1)) tell(top, caught);
  }
}

import { median } from '../statistics/quantile.ts';
import { crowdedLevel } from './level-statistics.ts';
import type { PumpRows } from './pump-rows.ts';
import { type Rise, risesOf } from './turning-points.ts';

/** The pressures between which a pump works, as the log itself shows them. */
export interface SwitchLevels {
  readonly cutInBar: number;
  readonly cutOutBar: number;
}

/** Levels by span of time: switches get adjusted, boosters get fitted and removed. Ascending. */
export interface SwitchLevelsSpan {
  readonly fromMs: number;
  readonly toMs: number;
  /** Null where no pump can be seen at work. */
  readonly levels: SwitchLevels | null;
}

const DAY_MS = 86_400_000;
/** Fewer rises than this in a day don't show a level of their own; the whole log's is taken. */
const RISES_FOR_OWN_LEVEL = 12;
/** The least swing looked at: a narrower switch than this would start a pump several times a minute. */
const LEAST_SWING_BAR = 0.1;
/** Spread of the highest and lowest of many thousand normal readings, in standard deviations, with some to spare. */
const NOISE_SPANS = 7.5;
/** A reading that rests below longer than this many times its fall is pulled down by a draw, not by an emptying vessel. */
const RESTING_RATIO = 4;
/** Share of resting rises above which a day shows draws from the main and no pump. */
const RESTING_SHARE = 0.6;

export function leastSwingBar(rows: PumpRows): number {
  return Math.max(LEAST_SWING_BAR, NOISE_SPANS * rows.calmNoiseBar, 2.5 * rows.quantumBar);
}

/** Every rise in the log that noise can't have made. */
export function allRises(rows: PumpRows, swingBar: number): Rise[] {
  const rises: Rise[] = [];
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    for (const rise of risesOf(rows.calmBar, rows.stretchFrom[s]!, rows.stretchFrom[s + 1]!, swingBar)) {
      rises.push(rise);
    }
  }
  return rises;
}

/**
 * Cut-in and cut-out from where valleys and peaks crowd, day by day where a day has enough of them. A pressure switch
 * turns at the same two levels again and again; draws that fall below, or peaks a draw cuts off, form tails and don't
 * move the crowd.
 */
export function switchLevels(rows: PumpRows): SwitchLevelsSpan[] {
  const rises = allRises(rows, leastSwingBar(rows));
  const first = rows.timeMs[0];
  if (first === undefined || rises.length === 0) return [];
  const days: { fromMs: number; rises: Rise[]; unpumped: boolean }[] = [];
  const last = rows.timeMs[rows.timeMs.length - 1]!;
  for (let from = first; from <= last; from += DAY_MS) days.push({ fromMs: from, rises: [], unpumped: false });
  for (const rise of rises) days[Math.floor((rows.timeMs[rise.valley]! - first) / DAY_MS)]!.rises.push(rise);
  for (const day of days) day.unpumped = looksUnpumped(rows, day.rises);
  const pumped = days.filter((day) => !day.unpumped).flatMap((day) => day.rises);
  const whole = levelsOf(rows, pumped);
  return days.map((day) => {
    const toMs = day.fromMs + DAY_MS;
    if (day.unpumped) return { fromMs: day.fromMs, toMs, levels: null };
    const own = day.rises.length >= RISES_FOR_OWN_LEVEL ? levelsOf(rows, day.rises) : null;
    return { fromMs: day.fromMs, toMs, levels: own ?? whole };
  });
}

function levelsOf(rows: PumpRows, rises: readonly Rise[]): SwitchLevels | null {
  if (rises.length === 0) return null;
  const swings = rises.map((rise) => rows.calmBar[rise.peak]! - rows.calmBar[rise.valley]!);
  const usual = median(swings);
  const full = rises.filter((_, i) => swings[i]! >= 0.5 * usual);
  const width = Math.max(0.04, 0.12 * usual, 3 * rows.calmNoiseBar, 1.5 * rows.quantumBar);
  const cutInBar = crowdedLevel(
    full.map((rise) => turnOf(rows, rise.valley, -1)),
    width,
  );
  const cutOutBar = crowdedLevel(
    full.map((rise) => turnOf(rows, rise.peak, 1)),
    width,
  );
  return cutOutBar - cutInBar >= 0.5 * usual ? { cutInBar, cutOutBar } : null;
}

/** Calming blunts a sharp turn: the outermost of the raw readings about it, less what noise adds to the outermost. */
function turnOf(rows: PumpRows, row: number, direction: 1 | -1): number {
  if (rows.calmBar === rows.bar) return rows.bar[row]!;
  let outermost = direction * rows.bar[row]!;
  for (const near of [row - 1, row + 1]) {
    if (near >= 0 && near < rows.bar.length) outermost = Math.max(outermost, direction * rows.bar[near]!);
  }
  return direction * (outermost - 0.5 * rows.noiseBar);
}

/**
 * With no pump a tap pulls the reading down at once and holds it there until it closes; a pump's vessel empties in a
 * ramp, and the low ends as soon as the pump is up to speed.
 */
function looksUnpumped(rows: PumpRows, rises: readonly Rise[]): boolean {
  if (rises.length < 3) return false;
  let resting = 0;
  for (const rise of rises) {
    const { fallMs, lowMs } = fallAndLow(rows, rise);
    if (lowMs > RESTING_RATIO * Math.max(fallMs, rows.intervalMs)) resting++;
  }
  return resting > RESTING_SHARE * rises.length;
}

function fallAndLow(rows: PumpRows, rise: Rise): { fallMs: number; lowMs: number } {
  const valley = rows.calmBar[rise.valley]!;
  const swing = Math.min(rows.calmBar[rise.peak]!, rows.calmBar[rise.fromPeak]!) - valley;
  const quarter = valley + 0.25 * swing;
  let up = rise.valley;
  while (up < rise.peak && rows.calmBar[up]! < quarter) up++;
  let down = rise.valley;
  while (down > rise.fromPeak && rows.calmBar[down]! < quarter) down--;
  let high = down;
  while (high > rise.fromPeak && rows.calmBar[high]! < valley + 0.75 * swing) high--;
  return { fallMs: rows.timeMs[down]! - rows.timeMs[high]!, lowMs: rows.timeMs[up]! - rows.timeMs[down]! };
}

import { median, quantile } from '../statistics/quantile.ts';
import { crowdedLevel, weightedMedian } from './level-statistics.ts';
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

/** Levels are sought in spans this long: a switch can be altered, a vessel fail, at any hour. */
const SPAN_MS = 6 * 3_600_000;
/** A span with too few rises of its own takes in this many on either side. */
const NEAR_SPANS = 4;
/** Fewer rises than this in a span don't show a level of their own. */
const RISES_FOR_OWN_LEVEL = 12;
/** Up to so many spans without levels a pump is failing, not gone: a booster is fitted or removed for days. */
const SHORT_SPELL_SPANS = 6;
/** The least swing looked at: a narrower switch than this would start a pump several times a minute. */
const LEAST_SWING_BAR = 0.06;
/** Spread of the highest and lowest of many thousand normal readings, in standard deviations, with some to spare. */
const NOISE_SPANS = 7.5;
/** A valley this far below its calmed reading was cut short; noise alone goes half as far. */
const CUT_SHORT_IN_NOISE = 6;
const CUT_SHORT_SHARE = 0.2;
/** Valleys this near the crowd, as part of the usual swing, belong to it. */
const SPIN_UP_SHARE = 0.3;
const TOP_OF_CROWD = 0.8;
/** Further apart, rows catch a valley anywhere on its slope, above cut-in as well as below: its middle is taken. */
const COARSE_MS = 4_000;
/** Cut-ins no further apart than this part of the widest band are the same switch's. */
const SAME_CUT_IN_SHARE = 0.1;
/** Cut-outs within this part of the widest band below the highest are the same switch's. */
const HIGH_SHARE = 0.3;
/** Cut-ins this far, as part of the band, below the usual one are no switch's. */
const MIXED_SHARE = 0.25;
/** Where half of the valleys scatter over more than this part of the swing, none crowd: the switch sits at the top of all. */
const SCATTERED_SHARE = 0.2;
const TOP_OF_SCATTER = 0.9;
/** A reading that rests below longer than this many times its fall is pulled down by a draw, not by an emptying vessel. */
const RESTING_RATIO = 4;
/** Share of resting rises above which a span shows draws from the main and no pump. */
const RESTING_SHARE = 0.6;
/** Of rises by which half of all is regained, those of at least this part are large. */
const LARGE_SHARE = 0.5;

function leastSwingBar(rows: PumpRows, noiseBar: number): number {
  return Math.max(LEAST_SWING_BAR, NOISE_SPANS * noiseBar, 2.5 * rows.quantumBar);
}

/**
 * Rises in the calmed readings; in the raw ones where calming has cut many a valley short: a median swallows a dip of a
 * row or two, as a pump without a vessel makes it.
 */
function clearRises(rows: PumpRows): { rises: Rise[]; bar: Float64Array } {
  const { bar, calmBar } = rows;
  const calm = allRises(rows, calmBar, leastSwingBar(rows, rows.calmNoiseBar));
  const cut = calm.filter(({ valley }) => {
    const lowest = Math.min(bar[valley]!, bar[valley - 1] ?? bar[valley]!, bar[valley + 1] ?? bar[valley]!);
    return calmBar[valley]! - lowest > CUT_SHORT_IN_NOISE * rows.noiseBar;
  });
  if (cut.length < CUT_SHORT_SHARE * calm.length || calm.length === 0) return { rises: calm, bar: calmBar };
  return { rises: allRises(rows, bar, leastSwingBar(rows, rows.noiseBar)), bar };
}

/** Every rise in the log that noise can't have made. */
function allRises(rows: PumpRows, bar: Float64Array, swingBar: number): Rise[] {
  const rises: Rise[] = [];
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    for (const rise of risesOf(bar, rows.stretchFrom[s]!, rows.stretchFrom[s + 1]!, swingBar)) {
      rises.push(rise);
    }
  }
  return rises;
}

/**
 * Cut-in and cut-out from where valleys and peaks crowd, span by span where there are enough of them. A pressure switch
 * turns at the same two levels again and again; draws that fall below, or peaks a draw cuts off, form tails and don't
 * move the crowd. A span that never gets up to where the widest band begins is one without a pump.
 */
export function switchLevels(rows: PumpRows): SwitchLevelsSpan[] {
  const { rises, bar } = clearRises(rows);
  const first = rows.timeMs[0];
  if (first === undefined || rises.length === 0) return [];
  const last = rows.timeMs[rows.timeMs.length - 1]!;
  const own: Rise[][] = [];
  for (let from = first; from <= last; from += SPAN_MS) own.push([]);
  for (const rise of rises) own[Math.floor((rows.timeMs[rise.valley]! - first) / SPAN_MS)]!.push(rise);
  const levels = own.map((mine, k) => {
    const seen =
      mine.length >= RISES_FOR_OWN_LEVEL ? mine : own.slice(Math.max(0, k - NEAR_SPANS), k + NEAR_SPANS + 1).flat();
    return looksUnpumped(rows, bar, seen) ? null : levelsOf(rows, bar, seen);
  });
  const usual = usualLevels(levels.flatMap((mine) => mine ?? []));
  const worked = levels.map((mine) => {
    if (!mine || !usual) return mine;
    const band = bandOf(usual);
    // A switch set narrower turns the pump on where it did before; without a pump taps pull the street's own pressure down.
    const below = mine.cutInBar < usual.cutInBar - SAME_CUT_IN_SHARE * band;
    if (below && mine.cutOutBar < usual.cutInBar + 0.1 * band) return null;
    // Where a booster comes or goes within a span, that span's valleys are the street's, its peaks the pump's.
    const mixed = usual.cutInBar - mine.cutInBar > MIXED_SHARE * band && mine.cutOutBar > usual.cutInBar + 0.5 * band;
    return mixed ? { cutInBar: usual.cutInBar, cutOutBar: mine.cutOutBar } : mine;
  });
  return carriedOver(worked).map((mine, k) => ({
    fromMs: first + k * SPAN_MS,
    toMs: first + (k + 1) * SPAN_MS,
    levels: mine,
  }));
}

/**
 * A pump that turns dry or doesn't start for some hours is still there, and its switch turns where it turned before: a
 * short spell without levels of its own has those of the nearest span that has some.
 */
function carriedOver(levels: readonly (SwitchLevels | null)[]): (SwitchLevels | null)[] {
  const filled = [...levels];
  for (let from = 0; from < levels.length; from++) {
    if (levels[from]) continue;
    let to = from;
    while (to < levels.length && !levels[to]) to++;
    const [before, after] = [levels[from - 1] ?? null, levels[to] ?? null];
    if (to - from <= SHORT_SPELL_SPANS) {
      for (let k = from; k < to; k++) filled[k] = (k - from < to - k ? before : after) ?? before ?? after;
    }
    from = to;
  }
  return filled;
}

/** The levels of a plant's highest peaks: the middle of all spans that get up there, so that no odd one speaks for all. */
function usualLevels(levels: readonly SwitchLevels[]): SwitchLevels | undefined {
  if (levels.length === 0) return undefined;
  const highestBar = levels.reduce((most, { cutOutBar }) => Math.max(most, cutOutBar), Number.NEGATIVE_INFINITY);
  const widestBar = levels.reduce((most, mine) => Math.max(most, bandOf(mine)), 0);
  const high = levels.filter(({ cutOutBar }) => cutOutBar >= highestBar - HIGH_SHARE * widestBar);
  return {
    cutInBar: median(high.map(({ cutInBar }) => cutInBar)),
    cutOutBar: median(high.map(({ cutOutBar }) => cutOutBar)),
  };
}

function bandOf({ cutInBar, cutOutBar }: SwitchLevels): number {
  return cutOutBar - cutInBar;
}

function levelsOf(rows: PumpRows, bar: Float64Array, rises: readonly Rise[]): SwitchLevels | null {
  if (rises.length === 0) return null;
  const swings = rises.map((rise) => bar[rise.peak]! - bar[rise.valley]!);
  const usual = usualSwing(rises, swings, bar);
  const full = rises.filter((_, i) => swings[i]! >= 0.5 * usual);
  const width = Math.max(0.04, 0.12 * usual, 3 * rows.calmNoiseBar, 1.5 * rows.quantumBar);
  const valleys = full.map((rise) => turnOf(rows, rise.valley, -1));
  const crowd = crowdedLevel(valleys, width);
  // The larger a draw, the further below cut-in it goes while the pump spins up: the switch sits at the crowd's top.
  const about = valleys.filter((valley) => Math.abs(valley - crowd) <= SPIN_UP_SHARE * usual);
  const fine = rows.intervalMs <= COARSE_MS;
  const scattered = fine && quantile(valleys, 0.75) - quantile(valleys, 0.25) > SCATTERED_SHARE * usual;
  const cutInBar = scattered ? quantile(valleys, TOP_OF_SCATTER) : quantile(about, fine ? TOP_OF_CROWD : 0.5);
  const cutOutBar = crowdedLevel(
    full.map((rise) => turnOf(rows, rise.peak, 1)),
    width,
  );
  return cutOutBar - cutInBar >= 0.5 * usual ? { cutInBar, cutOutBar } : null;
}

/**
 * The swing of a pump's usual rise. Gas that warms again after a draw makes many small rises high in the band between a
 * pump's few: where half of all that is regained is told by rises at least so large, their valleys show the switch, and of
 * the rises from about there the middle one is usual; a narrow switch's are small and many. Those from far below are
 * taps' on the main, while a pump doesn't start.
 */
function usualSwing(rises: readonly Rise[], swings: readonly number[], bar: Float64Array): number {
  const large = weightedMedian(swings, swings);
  const lowBar = median(rises.flatMap(({ valley }, i) => (swings[i]! >= 0.5 * large ? [bar[valley]!] : [])));
  return median(swings.filter((_, i) => Math.abs(bar[rises[i]!.valley]! - lowBar) <= SPIN_UP_SHARE * large));
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
 * ramp, and the low ends as soon as the pump is up to speed. The large rises decide: while a pump doesn't start, a
 * household's taps make many small ones at the main's own pressure.
 */
function looksUnpumped(rows: PumpRows, bar: Float64Array, rises: readonly Rise[]): boolean {
  if (rises.length < 3) return false;
  const swings = rises.map(({ peak, valley }) => bar[peak]! - bar[valley]!);
  const large = weightedMedian(swings, swings);
  let resting = 0;
  let judged = 0;
  rises.forEach((rise, k) => {
    if (swings[k]! < LARGE_SHARE * large) return;
    judged++;
    const { fallMs, lowMs } = fallAndLow(rows, bar, rise);
    if (lowMs > RESTING_RATIO * Math.max(fallMs, rows.intervalMs)) resting++;
  });
  return resting > RESTING_SHARE * judged;
}

function fallAndLow(rows: PumpRows, bar: Float64Array, rise: Rise): { fallMs: number; lowMs: number } {
  const valley = bar[rise.valley]!;
  const swing = Math.min(bar[rise.peak]!, bar[rise.fromPeak]!) - valley;
  const quarter = valley + 0.25 * swing;
  let up = rise.valley;
  while (up < rise.peak && bar[up]! < quarter) up++;
  let down = rise.valley;
  while (down > rise.fromPeak && bar[down]! < quarter) down--;
  let high = down;
  while (high > rise.fromPeak && bar[high]! < valley + 0.75 * swing) high--;
  return { fallMs: rows.timeMs[down]! - rows.timeMs[high]!, lowMs: rows.timeMs[up]! - rows.timeMs[down]! };
}

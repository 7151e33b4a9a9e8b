import { localDate } from '../../../collector/model/local-time.ts';
import { quantile } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';

/** A spell in which the pump turned on and off faster than the rows show. Rows are those of `PumpRows`. */
export interface ChatterSpell {
  readonly fromRow: number;
  readonly toRow: number;
  /** Levels between which the readings lie. */
  readonly lowBar: number;
  readonly highBar: number;
}

/** Between these intervals cycles of 15 s or less fall between rows, yet slower ones don't. */
const FASTEST_MS = 5_000;
const SLOWEST_MS = 15_000;
/** A step of this part of the band, or of so many noises, is no rest. */
const STEP_SHARE = 0.06;
const STEP_IN_NOISE = 4;
/** So many quiet rows end a spell; shorter spells show no rate. */
const QUIET_ROWS = 2;
const SPELL_ROWS = 8;
/** Days with fewer spells than this aren't judged by themselves. */
const FEWEST_SPELLS = 4;
const FEWEST_BESIDE = 2;
/**
 * Of readings taken at random moments of a saw two out of three are turning points; a cycle that rows can follow has
 * fewer. A sound vessel lasts a small draw for a minute and shows that in its slower spells: the lower third decides.
 */
const TURNING_SHARE = 0.48;
const LOWER_SPELLS = 0.35;
/** A vessel that has failed stays so: next to a day that shows it by itself this much is enough. */
const BESIDE_TURNING_SHARE = 0.3;
/** A spell on such a day counts itself with at least this share: its own few rows scatter. */
const OWN_TURNING_SHARE = 0.4;

interface Spell {
  readonly from: number;
  readonly to: number;
  readonly share: number;
}

/**
 * Rapid cycling that coarse rows can't show start by start: on such days even small draws make the pressure jump to and
 * fro within its band from row to row. Local days are judged whole, those beside one that shows it more readily. Linear
 * time but for sorting a day's spells.
 */
export function chatterSpells(rows: PumpRows, bandBar: number, timeZone: string): ChatterSpell[] {
  if (rows.intervalMs < FASTEST_MS || rows.intervalMs > SLOWEST_MS || !(bandBar > 0)) return [];
  const least = Math.max(STEP_SHARE * bandBar, STEP_IN_NOISE * rows.noiseBar, 1.5 * rows.quantumBar);
  const byDay = new Map<string, Spell[]>();
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    for (const spell of spellsOf(rows, rows.stretchFrom[s]!, rows.stretchFrom[s + 1]!, least)) {
      const day = localDate(rows.timeMs[spell.from]!, timeZone);
      const spells = byDay.get(day) ?? [];
      spells.push(spell);
      byDay.set(day, spells);
    }
  }
  const days = [...byDay.values()];
  return days
    .filter((_, k) => shownFrom(days, k))
    .flatMap((spells) =>
      spells
        .filter(({ share }) => share >= OWN_TURNING_SHARE)
        .map(({ from, to }) => {
          const readings = rows.bar.subarray(from, to + 1);
          return { fromRow: from, toRow: to, lowBar: quantile(readings, 0.05), highBar: quantile(readings, 0.95) };
        }),
    );
}

/** Whether a day shows rapid cycling by itself, or beside such a day through days that nearly do. */
function shownFrom(days: readonly (readonly Spell[])[], k: number): boolean {
  if (showsByItself(days[k]!)) return true;
  for (const step of [-1, 1]) {
    for (let near = k; showsBeside(days[near] ?? []); near += step) {
      if (days[near + step] && showsByItself(days[near + step]!)) return true;
    }
  }
  return false;
}

function showsByItself(spells: readonly Spell[]): boolean {
  return spells.length >= FEWEST_SPELLS && lowerShare(spells) >= TURNING_SHARE;
}

function showsBeside(spells: readonly Spell[]): boolean {
  return spells.length >= FEWEST_BESIDE && lowerShare(spells) >= BESIDE_TURNING_SHARE;
}

function lowerShare(spells: readonly Spell[]): number {
  return quantile(
    spells.map(({ share }) => share),
    LOWER_SPELLS,
  );
}

function spellsOf(rows: PumpRows, from: number, to: number, least: number): Spell[] {
  const { bar } = rows;
  const spells: Spell[] = [];
  let i = from + 1;
  while (i < to - 1) {
    if (Math.abs(bar[i]! - bar[i - 1]!) < least) {
      i++;
      continue;
    }
    const first = i;
    let last = i;
    let quiet = 0;
    for (; i < to - 1 && quiet < QUIET_ROWS; i++) {
      if (Math.abs(bar[i]! - bar[i - 1]!) < least) quiet++;
      else {
        quiet = 0;
        last = i;
      }
    }
    if (last - first < SPELL_ROWS) continue;
    let turns = 0;
    for (let k = first; k < last; k++) if ((bar[k]! - bar[k - 1]!) * (bar[k + 1]! - bar[k]!) < 0) turns++;
    spells.push({ from: first, to: last, share: turns / (last - first) });
  }
  return spells;
}

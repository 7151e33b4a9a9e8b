import { localDate } from '../../../collector/model/local-time.ts';
import { median, quantile } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';
import { refillsCaught, risesCaught, type Spell, spellsOf } from './restless-spells.ts';
import type { SwitchLevels, SwitchLevelsSpan } from './switch-levels.ts';

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
/** Shorter spells show no rate. */
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
const BESIDE_TURNING_SHARE = 0.2;
const BESIDE_UNEXPLAINED_SHARE = 0.15;
const BESIDE_CAUGHT_SHARE = 0.6;
/** A spell on such a day counts itself with at least this share: its own few rows scatter. */
const OWN_TURNING_SHARE = 0.4;
/**
 * The quickest cycle at any draw lasts four fills (T = V/q + V/(Q − q), least at q = Q/2): one of 15 s needs a fill of
 * 3.75 s, and of fills so short readings 10 s apart catch no more than this share midway.
 */
const RAPID_CAUGHT_SHARE = 0.375;
/** Before any rise is seen half of them are thought caught, with the weight of so many rises. */
const CAUGHT_BEFORE = { share: 0.5, rises: 5 };
/** Beginnings of a day's spells that no cycle which rows can follow has, and their least share of all that could show it. */
const UNEXPLAINED_ALONE = { count: 2, share: 0.2 };
/** So many on a day and its neighbours, beside much turning: the second number where rises are caught too often. */
const UNEXPLAINED_BESIDE_TURNING = [1, 2] as const;

/** Two taps opened at once make a beginning in thirty look unexplained: a vessel that has failed shows several times as many. */
const LEAST_UNEXPLAINED_SHARE = 0.06;

/**
 * Refills into rest last as long as the vessel takes with nobody drawing: more of them caught midway than chance makes of
 * that share (one-sided 95 %) rule quicker cycles out. A day with fewer refills than the larger number is judged with its
 * neighbours', one with fewer than the smaller not at all: the neighbours' vessel may have been another.
 */
const CAUGHT_BEYOND_CHANCE = 1.645;
const FEWEST_REFILLS = 20;
const FEWEST_OWN_REFILLS = 8;

interface Day {
  readonly spells: Spell[];
  rises: number;
  caught: number;
  refills: number;
  refillsCaught: number;
}

/**
 * Rapid cycling that coarse rows can't show start by start. On such days even small draws make the pressure jump to and
 * fro within its band from row to row; where a cycle lasts nearly a whole number of intervals the readings creep instead,
 * but then the first of them lies where no such creeping leads. A pump that takes long to fill can't be meant. Local days
 * are judged whole, those beside one that shows it more readily. Linear time but for sorting a day's spells.
 */
export function chatterSpells(rows: PumpRows, spans: readonly SwitchLevelsSpan[], timeZone: string): ChatterSpell[] {
  if (rows.intervalMs < FASTEST_MS || rows.intervalMs > SLOWEST_MS) return [];
  const byDate = new Map<string, Day>();
  const dayOf = (row: number): Day => {
    const date = localDate(rows.timeMs[row]!, timeZone);
    const day = byDate.get(date) ?? { spells: [], rises: 0, caught: 0, refills: 0, refillsCaught: 0 };
    byDate.set(date, day);
    return day;
  };
  for (const { fromRow, toRow, levels } of piecesOf(rows, spans)) {
    const bandBar = levels.cutOutBar - levels.cutInBar;
    const leastBar = Math.max(STEP_SHARE * bandBar, STEP_IN_NOISE * rows.noiseBar, 1.5 * rows.quantumBar);
    for (const spell of spellsOf(rows, { fromRow, toRow }, leastBar, levels)) dayOf(spell.fromRow).spells.push(spell);
    risesCaught(rows, { fromRow, toRow }, leastBar, bandBar, (row, caught) => {
      const day = dayOf(row);
      day.rises++;
      if (caught) day.caught++;
    });
    refillsCaught(rows, { fromRow, toRow }, leastBar, levels, (row, caught) => {
      const day = dayOf(row);
      day.refills++;
      if (caught) day.refillsCaught++;
    });
  }
  const days = [...byDate.values()];
  return days
    .filter((_, k) => shownFrom(days, k))
    .flatMap(({ spells }) =>
      spellsOfShownDay(spells).map(({ fromRow, toRow }) => {
        const readings = rows.bar.subarray(fromRow, toRow + 1);
        return { fromRow, toRow, lowBar: quantile(readings, 0.05), highBar: quantile(readings, 0.95) };
      }),
    );
}

/** The stretches, cut where a span's levels give way to the next one's; those of a span and its neighbours are taken together. */
function piecesOf(
  rows: PumpRows,
  spans: readonly SwitchLevelsSpan[],
): { fromRow: number; toRow: number; levels: SwitchLevels }[] {
  const pieces: { fromRow: number; toRow: number; levels: SwitchLevels }[] = [];
  const about = spans.map((_, k) => {
    const near = spans.slice(Math.max(0, k - 1), k + 2).flatMap(({ levels }) => levels ?? []);
    const cutInBar = median(near.map((levels) => levels.cutInBar));
    return { cutInBar, cutOutBar: cutInBar + median(near.map((levels) => levels.cutOutBar - levels.cutInBar)) };
  });
  let span = 0;
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    const end = rows.stretchFrom[s + 1]!;
    for (let fromRow = rows.stretchFrom[s]!; fromRow < end; ) {
      while (span + 1 < spans.length && spans[span]!.toMs <= rows.timeMs[fromRow]!) span++;
      let toRow = fromRow + 1;
      while (toRow < end && (span + 1 >= spans.length || rows.timeMs[toRow]! < spans[span]!.toMs)) toRow++;
      const levels = about[span];
      if (levels && levels.cutOutBar > levels.cutInBar) pieces.push({ fromRow, toRow, levels });
      fromRow = toRow;
    }
  }
  return pieces;
}

/** Long spells that turn much or begin where no slow cycle does; where none does, all long ones: the day is one of cycling. */
function spellsOfShownDay(spells: readonly Spell[]): readonly Spell[] {
  const long = spells.filter(isLong);
  const telling = long.filter(({ turning, beginning }) => turning >= OWN_TURNING_SHARE || beginning === 'unexplained');
  if (telling.length > 0) return telling;
  return long.length > 0 ? long : spells.slice(0, 1);
}

function isLong({ fromRow, toRow }: Spell): boolean {
  return toRow - fromRow >= SPELL_ROWS;
}

/** Whether a day shows rapid cycling by itself, or beside such a day through days that nearly do. */
function shownFrom(days: readonly Day[], k: number): boolean {
  if (showsByItself(days, k)) return true;
  for (const step of [-1, 1]) {
    for (let near = k; showsBeside(days[near]) && !fillsTooSlowly(days, near); near += step) {
      if (days[near + step] && showsByItself(days, near + step)) return true;
    }
  }
  return false;
}

function showsByItself(days: readonly Day[], k: number): boolean {
  if (fillsTooSlowly(days, k)) return false;
  const day = days[k]!;
  const own = beginningsOf(day);
  const fillsQuickly = caughtShare(day) <= RAPID_CAUGHT_SHARE;
  if (
    fillsQuickly &&
    own.unexplained >= UNEXPLAINED_ALONE.count &&
    own.unexplained >= UNEXPLAINED_ALONE.share * own.judged
  )
    return true;
  const about = { judged: 0, unexplained: 0 };
  for (const near of [days[k - 1], day, days[k + 1]]) {
    if (!near) continue;
    const { judged, unexplained } = beginningsOf(near);
    about.judged += judged;
    about.unexplained += unexplained;
  }
  return (
    day.spells.filter(isLong).length >= FEWEST_SPELLS &&
    lowerTurning(day) >= TURNING_SHARE &&
    about.unexplained >= UNEXPLAINED_BESIDE_TURNING[fillsQuickly ? 0 : 1] &&
    about.unexplained >= LEAST_UNEXPLAINED_SHARE * about.judged
  );
}

/** Whether the pump takes so long to fill the vessel with nobody drawing that no draw makes it cycle within 15 s. */
function fillsTooSlowly(days: readonly Day[], k: number): boolean {
  let { refills, refillsCaught } = days[k]!;
  if (refills < FEWEST_OWN_REFILLS || refillsCaught <= RAPID_CAUGHT_SHARE * refills) return false;
  if (refills < FEWEST_REFILLS) {
    for (const near of [days[k - 1], days[k + 1]]) {
      refills += near?.refills ?? 0;
      refillsCaught += near?.refillsCaught ?? 0;
    }
  }
  const chance = Math.sqrt(RAPID_CAUGHT_SHARE * (1 - RAPID_CAUGHT_SHARE) * refills);
  return refillsCaught > RAPID_CAUGHT_SHARE * refills + CAUGHT_BEYOND_CHANCE * chance;
}

function showsBeside(day: Day | undefined): boolean {
  if (!day || caughtShare(day) > BESIDE_CAUGHT_SHARE) return false;
  const { judged, unexplained } = beginningsOf(day);
  if (unexplained >= 1 && unexplained >= BESIDE_UNEXPLAINED_SHARE * judged) return true;
  return day.spells.filter(isLong).length >= FEWEST_BESIDE && lowerTurning(day) >= BESIDE_TURNING_SHARE;
}

function beginningsOf({ spells }: Day): { judged: number; unexplained: number } {
  const judged = spells.filter(({ beginning }) => beginning !== 'untold').length;
  return { judged, unexplained: spells.filter(({ beginning }) => beginning === 'unexplained').length };
}

function caughtShare({ rises, caught }: Day): number {
  return (caught + CAUGHT_BEFORE.share * CAUGHT_BEFORE.rises) / (rises + CAUGHT_BEFORE.rises);
}

function lowerTurning({ spells }: Day): number {
  return quantile(
    spells.filter(isLong).map(({ turning }) => turning),
    LOWER_SPELLS,
  );
}

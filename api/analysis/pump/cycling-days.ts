import { localDays } from '../../../collector/model/local-time.ts';
import type { Cycling, CyclingCause, CyclingDay, PumpStart } from '../findings.ts';
import { weighCauses } from './cause-weights.ts';
import { RAPID_APART_MS } from './episodes.ts';

const HOUR_MS = 3_600_000;

interface Spell {
  readonly episode: Cycling;
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * Cycling by the days of the site's clock, ascending; a day without is not listed. An episode counts on every day that it
 * touches, its starts on the day on which each falls.
 */
export function cyclingDays(cycling: readonly Cycling[], starts: readonly PumpStart[], timeZone: string): CyclingDay[] {
  const spells = cycling
    .filter(({ kind }) => kind !== 'normal')
    .map((episode) => ({ episode, startMs: Date.parse(episode.start), endMs: Date.parse(episode.end) }));
  if (spells.length === 0) return [];
  const startsMs = Float64Array.from(starts, ({ start }) => Date.parse(start));
  const days = new Map<string, LocalDay>();
  for (const spell of spells) {
    for (const { date, startMs, endMs } of localDays(
      spell.startMs,
      Math.max(spell.endMs, spell.startMs + 1),
      timeZone,
    )) {
      const day = days.get(date);
      if (day) day.spells.push(spell);
      else days.set(date, { date, startMs, endMs, spells: [spell] });
    }
  }
  return [...days.values()].sort((a, b) => a.startMs - b.startMs).map((day) => dayOf(day, startsMs));
}

interface LocalDay {
  readonly date: string;
  readonly startMs: number;
  readonly endMs: number;
  readonly spells: Spell[];
}

function dayOf({ date, startMs, endMs, spells }: LocalDay, startsMs: Float64Array): CyclingDay {
  const kinds = [...new Set(spells.map(({ episode }) => episode.kind))];
  return {
    day: date,
    kinds,
    episodes: spells.length,
    starts: spells.reduce((sum, spell) => sum + startsIn(spell, startsMs, startMs, endMs), 0),
    mostStartsPerHour: spells.reduce(
      (most, spell) => Math.max(most, uncounted(spell)),
      worstHour(startsMs, startMs, endMs),
    ),
    ...(spells.some(({ episode }) => episode.startsAtLeast) ? { startsAtLeast: true } : {}),
    causes: kinds.flatMap((kind) => causesOf(spells.filter(({ episode }) => episode.kind === kind))).filter(once),
  };
}

/** Starts of an episode that fall into a day; where they can't be counted, the share of the least there were. */
function startsIn({ episode, startMs, endMs }: Spell, startsMs: Float64Array, fromMs: number, toMs: number): number {
  if (episode.startsAtLeast) {
    const inside = Math.min(endMs, toMs) - Math.max(startMs, fromMs);
    return Math.round((episode.starts * inside) / Math.max(1, endMs - startMs));
  }
  return firstAt(startsMs, Math.min(endMs + 1, toMs)) - firstAt(startsMs, Math.max(startMs, fromMs));
}

/** Most starts, of whatever kind, in any 60 min whose last start falls into the day: a motor counts them all. */
function worstHour(startsMs: Float64Array, fromMs: number, toMs: number): number {
  let most = 0;
  let first = 0;
  for (let k = firstAt(startsMs, fromMs); k < startsMs.length && startsMs[k]! < toMs; k++) {
    first = Math.max(first, firstAt(startsMs, startsMs[k]! - HOUR_MS + 1));
    most = Math.max(most, k - first + 1);
  }
  return most;
}

/** Of an episode whose starts can't be counted, the least in its fullest hour. */
function uncounted({ episode, startMs, endMs }: Spell): number {
  return episode.startsAtLeast ? Math.floor(Math.min(HOUR_MS, endMs - startMs) / RAPID_APART_MS) : 0;
}

function causesOf(spells: readonly Spell[]): readonly CyclingCause[] {
  const { causes, sure } = weighCauses(spells.map(({ episode }) => episode));
  return causes.slice(0, sure ? 1 : 2);
}

function once<T>(value: T, place: number, all: readonly T[]): boolean {
  return all.indexOf(value) === place;
}

function firstAt(ascending: Float64Array, wanted: number): number {
  let low = 0;
  let high = ascending.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle]! < wanted) low = middle + 1;
    else high = middle;
  }
  return low;
}

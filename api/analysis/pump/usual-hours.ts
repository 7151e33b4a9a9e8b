import { utcOffsetMinutes } from '../../../collector/model/local-time.ts';

const DAY_MINUTES = 1440;
const QUARTER_MINUTES = 15;
const QUARTERS = DAY_MINUTES / QUARTER_MINUTES;
/** "Most" is so large a share of the spells: four of five. */
const MOST_SHARE = 0.8;
/** A spell that ends as it starts is in the quarter hour that begins then. */
const SHORTEST_MS = 1000;
/** Hours wider than this name no time of the day. */
const WIDEST_MINUTES = 720;

interface Spell {
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * The shortest time of the day, to the quarter hour, that holds most of the spells whole: `between 06:30 and 08:15`.
 * Undefined where it would be wider than half a day, or where no spell is given: they come at all hours.
 */
export function usualHours(spells: readonly Spell[], timeZone: string): string | undefined {
  const day = spells.map(({ startMs, endMs }) => {
    const minute =
      (((startMs / 60_000 + utcOffsetMinutes(startMs, timeZone)) % DAY_MINUTES) + DAY_MINUTES) % DAY_MINUTES;
    return { from: minute, to: minute + Math.max(SHORTEST_MS, endMs - startMs) / 60_000 };
  });
  const needed = Math.max(1, Math.ceil(MOST_SHARE * day.length));
  let best: { from: number; to: number } | undefined;
  for (let quarter = 0; quarter < QUARTERS; quarter++) {
    const from = quarter * QUARTER_MINUTES;
    const ends = day
      .map((spell) => ((spell.from - from + DAY_MINUTES) % DAY_MINUTES) + spell.to - spell.from)
      .sort((a, b) => a - b);
    const width = Math.max(1, Math.ceil((ends[needed - 1] ?? 0) / QUARTER_MINUTES)) * QUARTER_MINUTES;
    if (!best || width < best.to - best.from) best = { from, to: from + width };
  }
  if (!best || best.to - best.from > WIDEST_MINUTES) return undefined;
  return `between ${clock(best.from)} and ${clock(best.to)}`;
}

function clock(minute: number): string {
  const of = minute % DAY_MINUTES;
  return `${String(Math.floor(of / 60)).padStart(2, '0')}:${String(of % 60).padStart(2, '0')}`;
}

/*
 * Local time at a site, by Intl alone: the page judges every hour in the site's zone, never in the viewer's, and the
 * charting library's own zone handling goes wrong while the viewer's zone has daylight saving.
 */

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
/** Zone offsets change at quarter hours of UTC at the finest, so one look-up answers for all of a quarter hour. */
const QUARTER_MS = 15 * MINUTE_MS;
const CACHED_OFFSETS = 20_000;

/** A local day at the site: 23, 24 or 25 hours long. */
export interface LocalDay {
  /** Calendar date `YYYY-MM-DD`. */
  readonly date: string;
  readonly startMs: number;
  /** Exclusive: the start of the next local day. */
  readonly endMs: number;
  /** ISO weekday, Monday is 1. */
  readonly weekday: number;
}

/** A part of a day in which the clock runs on unchanged; a day of 23 or 25 hours has two. */
export interface Stretch {
  readonly startMs: number;
  readonly endMs: number;
  readonly offsetMinutes: number;
}

export interface LocalParts {
  readonly date: string;
  readonly hour: number;
  readonly minute: number;
  readonly second: number;
}

export interface SiteTime {
  readonly timeZone: string;
  /** Minutes east of UTC at that instant. */
  offsetMinutes(atMs: number): number;
  parts(atMs: number): LocalParts;
  /**
   * The instant at which the site's clock shows this time. One that the spring change skips is the same distance after
   * the change; of one that the autumn change repeats, the first.
   */
  instantOf(date: string, hour: number, minute: number): number;
  /** The local day that holds the instant. */
  dayOf(atMs: number): LocalDay;
  /** The local days that touch [fromMs, toMs), ascending. */
  daysBetween(fromMs: number, toMs: number): LocalDay[];
  /** The day's stretches of one offset: one, or two where the clocks change. */
  stretchesOf(day: LocalDay): Stretch[];
  /** Hours on the wall clock since local midnight, 0 to 24, by which the strips stand under one another. */
  wallClockHours(atMs: number): number;
}

/** Throws a RangeError where the zone's name is unknown to this browser. */
export function createSiteTime(timeZone: string): SiteTime {
  const formatter = new Intl.DateTimeFormat('en-GB', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
    hour: '2-digit',
    minute: '2-digit',
    second: '2-digit',
  });
  const offsets = new Map<number, number>();

  function offsetMinutes(atMs: number): number {
    const quarter = Math.floor(atMs / QUARTER_MS);
    const known = offsets.get(quarter);
    if (known !== undefined) return known;
    const quarterMs = quarter * QUARTER_MS;
    const fields: Record<string, number> = {};
    for (const part of formatter.formatToParts(quarterMs)) fields[part.type] = Number(part.value);
    const { year, month, day, hour, minute, second } = fields as Record<
      'year' | 'month' | 'day' | 'hour' | 'minute' | 'second',
      number
    >;
    const offset = Math.round((Date.UTC(year, month - 1, day, hour, minute, second) - quarterMs) / MINUTE_MS);
    if (offsets.size >= CACHED_OFFSETS) offsets.clear();
    offsets.set(quarter, offset);
    return offset;
  }

  /** Milliseconds of the wall clock, as if it were UTC. */
  const wallMs = (atMs: number) => atMs + offsetMinutes(atMs) * MINUTE_MS;

  function instantOfWall(wall: number): number {
    // Both offsets that may hold around the wanted time; the earlier instant that really shows it wins.
    const before = offsetMinutes(wall - DAY_MS);
    const after = offsetMinutes(wall + DAY_MS);
    const early = wall - Math.max(before, after) * MINUTE_MS;
    const late = wall - Math.min(before, after) * MINUTE_MS;
    if (wallMs(early) === wall) return early;
    if (wallMs(late) === wall) return late;
    return wall - before * MINUTE_MS;
  }

  function startOfDate(dateMs: number): number {
    const start = instantOfWall(dateMs);
    if (wallMs(start) === dateMs) return start;
    // Midnight itself is skipped in some zones: the day starts at the change.
    let low = Math.floor(start / QUARTER_MS) - 12;
    let high = Math.ceil(start / QUARTER_MS) + 12;
    while (high - low > 1) {
      const middle = Math.floor((low + high) / 2);
      if (wallMs(middle * QUARTER_MS) >= dateMs) high = middle;
      else low = middle;
    }
    return high * QUARTER_MS;
  }

  function dayOfDate(dateMs: number): LocalDay {
    const date = new Date(dateMs);
    return {
      date: date.toISOString().slice(0, 10),
      startMs: startOfDate(dateMs),
      endMs: startOfDate(dateMs + DAY_MS),
      weekday: date.getUTCDay() === 0 ? 7 : date.getUTCDay(),
    };
  }

  const dateMsOf = (atMs: number) => Math.floor(wallMs(atMs) / DAY_MS) * DAY_MS;

  return {
    timeZone,
    offsetMinutes,
    parts(atMs) {
      const text = new Date(wallMs(atMs)).toISOString();
      return {
        date: text.slice(0, 10),
        hour: Number(text.slice(11, 13)),
        minute: Number(text.slice(14, 16)),
        second: Number(text.slice(17, 19)),
      };
    },
    instantOf(date, hour, minute) {
      return instantOfWall(Date.parse(`${date}T00:00:00Z`) + (hour * 60 + minute) * MINUTE_MS);
    },
    dayOf: (atMs) => dayOfDate(dateMsOf(atMs)),
    daysBetween(fromMs, toMs) {
      const days: LocalDay[] = [];
      for (let dateMs = dateMsOf(fromMs); ; dateMs += DAY_MS) {
        const day = dayOfDate(dateMs);
        if (day.startMs >= toMs) return days;
        days.push(day);
      }
    },
    stretchesOf(day) {
      const before = offsetMinutes(day.startMs);
      const after = offsetMinutes(day.endMs - 1);
      if (before === after) return [{ startMs: day.startMs, endMs: day.endMs, offsetMinutes: before }];
      let low = Math.floor(day.startMs / QUARTER_MS);
      let high = Math.ceil(day.endMs / QUARTER_MS);
      while (high - low > 1) {
        const middle = Math.floor((low + high) / 2);
        if (offsetMinutes(middle * QUARTER_MS) === before) low = middle;
        else high = middle;
      }
      const changeMs = high * QUARTER_MS;
      return [
        { startMs: day.startMs, endMs: changeMs, offsetMinutes: before },
        { startMs: changeMs, endMs: day.endMs, offsetMinutes: after },
      ];
    },
    wallClockHours(atMs) {
      const wall = wallMs(atMs);
      return (wall - Math.floor(wall / DAY_MS) * DAY_MS) / 3_600_000;
    },
  };
}

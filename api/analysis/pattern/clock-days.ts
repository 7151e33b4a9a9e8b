import { localDays, utcOffsetMinutes } from '../../../collector/model/local-time.ts';
import type { StandingPressure } from '../supply/standing-pressure.ts';

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
/** Clocks change at quarter hours of UTC at the finest (IANA data): one look-up answers for all of one. */
const QUARTER_MS = 15 * MINUTE_MS;

/** A local day's points of the standing pressure, and what the clock on the wall shows at each. */
export interface ClockDay {
  /** Local calendar date `YYYY-MM-DD`. */
  readonly date: string;
  /** ISO weekday: Monday is 1. */
  readonly weekday: number;
  /** Its length: 23, 24 or 25 hours, or a half more or less where a place changes its clock by half an hour. */
  readonly hours: number;
  /** Points of the grid that lie in it, [from, to). */
  readonly from: number;
  readonly to: number;
  /** Minutes since midnight that the clock shows at a point, 0 to 1440 (exclusive); twice the same on a long day. */
  clockMinute(point: number): number;
}

/** The local days that standing pressure touches, oldest first. The clock is asked only on days that it changes. */
export function clockDays(standing: StandingPressure, endMs: number, timeZone: string): ClockDay[] {
  const { startMs, stepMs, bar } = standing;
  return localDays(startMs, endMs, timeZone).map((day) => {
    const offsets = new Map<number, number>();
    const usualLength = day.endMs - day.startMs === DAY_MS;
    return {
      date: day.date,
      weekday: day.weekday,
      hours: (day.endMs - day.startMs) / 3_600_000,
      from: Math.max(0, Math.ceil((day.startMs - startMs) / stepMs)),
      to: Math.min(bar.length, Math.ceil((day.endMs - startMs) / stepMs)),
      clockMinute(point) {
        const atMs = startMs + point * stepMs;
        if (usualLength) return (atMs - day.startMs) / MINUTE_MS;
        const quarter = Math.floor(atMs / QUARTER_MS);
        const offset = offsets.get(quarter) ?? utcOffsetMinutes(quarter * QUARTER_MS, timeZone);
        offsets.set(quarter, offset);
        return (atMs / MINUTE_MS + offset) % 1440;
      },
    };
  });
}

import type { Pattern } from '../../../api/analysis/findings.ts';
import { supplyPattern } from '../../../api/analysis/pattern/supply-pattern.ts';
import type { StandingPressure } from '../../../api/analysis/supply/standing-pressure.ts';

export const LONDON = 'Europe/London';
/** Monday 2026-06-01, 00:00 in London. */
export const MONDAY_MS = Date.parse('2026-05-31T23:00:00Z');

/** The pattern of an invented street: a value a minute from a Monday on; its weekday mornings are told as sagging. */
export function patternOf(
  days: number,
  barAt: (minuteOfDay: number, day: number) => number,
  { thresholdBar = 0.7, sharedBar = 0.02, sagging = (_day: number): boolean => false, startMs = MONDAY_MS } = {},
): Pattern {
  const points = days * 1440;
  const standing: StandingPressure = {
    startMs,
    stepMs: 60_000,
    bar: Float64Array.from({ length: points }, (_, point) => barAt(point % 1440, Math.floor(point / 1440))),
    sdBar: new Float32Array(points),
    interpolated: new Uint8Array(points),
  };
  const sags = Array.from({ length: days }, (_, day) => ({
    day: new Date(startMs + day * 86_400_000 + 43_200_000).toISOString().slice(0, 10),
    window: 'morning' as const,
    state: sagging(day) ? ('present' as const) : ('absent' as const),
  }));
  return supplyPattern(standing, startMs + points * 60_000, LONDON, thresholdBar, sharedBar, sags);
}

/** Weekdays fall to 0.5 bar from 07 to 09 o'clock, the weekend doesn't. */
export function sagging(minuteOfDay: number, day: number): number {
  return day % 7 < 5 && minuteOfDay >= 420 && minuteOfDay < 540 ? 0.5 : 1.5;
}
export const onWeekdays = (day: number) => day % 7 < 5;

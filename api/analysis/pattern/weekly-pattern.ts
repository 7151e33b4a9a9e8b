import { localDays, utcOffsetMinutes } from '../../../collector/model/local-time.ts';
import type { Pattern } from '../findings.ts';
import { quantileOfSorted, sortedFinite } from '../statistics/quantile.ts';
import type { StandingPressure } from '../supply/standing-pressure.ts';

const HOURS_OF_WEEK = 168;
const HOUR_MS = 3_600_000;
const SHARES = [0, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 1];

/** Standing pressure by hour of the local week (10, 50 and 90 % quantiles), and its duration curve. */
export function weeklyPattern(standing: StandingPressure, endMs: number, timeZone: string): Pattern {
  const hours: number[][] = Array.from({ length: HOURS_OF_WEEK }, () => []);
  for (const day of localDays(standing.startMs, endMs, timeZone)) {
    const dayLength = day.endMs - day.startMs;
    const from = Math.max(0, Math.ceil((day.startMs - standing.startMs) / standing.stepMs));
    const to = Math.min(standing.bar.length, Math.ceil((day.endMs - standing.startMs) / standing.stepMs));
    const usualLength = dayLength === 24 * HOUR_MS;
    for (let j = from; j < to; j++) {
      const value = standing.bar[j]!;
      if (Number.isNaN(value)) continue;
      const atMs = standing.startMs + j * standing.stepMs;
      // On a day of 23 or 25 hours the hour is the clock's: places change it at one, two or midnight.
      const hour = usualLength
        ? Math.floor((atMs - day.startMs) / HOUR_MS)
        : Math.floor((atMs / 60_000 + utcOffsetMinutes(atMs, timeZone)) / 60) % 24;
      hours[(day.weekday - 1) * 24 + Math.min(23, Math.max(0, hour))]!.push(value);
    }
  }
  const all = sortedFinite(standing.bar);
  return {
    hourOfWeek: hours.map((values) => {
      if (values.length === 0) return null;
      const sorted = sortedFinite(values);
      return {
        q10: quantileOfSorted(sorted, 0.1),
        q50: quantileOfSorted(sorted, 0.5),
        q90: quantileOfSorted(sorted, 0.9),
        count: values.length,
      };
    }),
    durationCurve: all.length === 0 ? [] : SHARES.map((share) => ({ share, bar: quantileOfSorted(all, 1 - share) })),
  };
}

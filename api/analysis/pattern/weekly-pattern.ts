import type { Pattern } from '../findings.ts';
import { quantileOfSorted, sortedFinite } from '../statistics/quantile.ts';
import type { StandingPressure } from '../supply/standing-pressure.ts';
import type { ClockDay } from './clock-days.ts';

const HOURS_OF_WEEK = 168;

/** Known standing pressure of each hour of the local week (Monday 00 first), and on how many days it was known. */
export interface HoursOfWeek {
  readonly bar: readonly (readonly number[])[];
  readonly days: Uint32Array;
}

/** Puts every known point into its hour by the clock; points in bar, `days` as of `clockDays`. */
export function hoursOfWeek(standing: StandingPressure, days: readonly ClockDay[]): HoursOfWeek {
  const bar: number[][] = Array.from({ length: HOURS_OF_WEEK }, () => []);
  const known = new Uint32Array(HOURS_OF_WEEK);
  const lastDay = new Int32Array(HOURS_OF_WEEK).fill(-1);
  for (const [index, day] of days.entries()) {
    for (let point = day.from; point < day.to; point++) {
      const value = standing.bar[point]!;
      if (Number.isNaN(value)) continue;
      const cell = (day.weekday - 1) * 24 + Math.floor(day.clockMinute(point) / 60);
      bar[cell]!.push(value);
      // Points of a cell come day by day, so one look at the last suffices.
      if (lastDay[cell] !== index) known[cell]!++;
      lastDay[cell] = index;
    }
  }
  return { bar, days: known };
}

/** Each hour's 10, 50 and 90 % quantiles in bar (type 7); null where nothing is known. */
export function quantilesByHour({ bar, days }: HoursOfWeek): Pattern['hourOfWeek'] {
  return bar.map((values, cell) => {
    if (values.length === 0) return null;
    const sorted = sortedFinite(values);
    return {
      q10: quantileOfSorted(sorted, 0.1),
      q50: quantileOfSorted(sorted, 0.5),
      q90: quantileOfSorted(sorted, 0.9),
      count: values.length,
      days: days[cell]!,
    };
  });
}

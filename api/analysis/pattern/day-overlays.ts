import type { DayOverlays } from '../findings.ts';
import { quantileOfSorted, sortedFinite } from '../statistics/quantile.ts';
import type { StandingPressure } from '../supply/standing-pressure.ts';
import type { ClockDay } from './clock-days.ts';

/** A quarter of an hour: a sag of half an hour shows its depth, and a day is 96 values. Slower logs take a longer one. */
const SLOT_MINUTES = [15, 30, 60] as const;
/** The median of less than half of a slot could be that of its other half. */
const LEAST_KNOWN_OF_SLOT = 0.5;
/** Two months: more curves over one another are a blot, and a document must not grow with every day of a year. */
export const MOST_SINGLE_DAYS = 62;
/** Tenth and ninetieth percentile of fewer days would be little more than their extremes. */
const LEAST_BAND_DAYS = 5;

export interface SagDay {
  readonly day: string;
  readonly window: 'morning' | 'evening';
  readonly state: 'present' | 'absent' | 'unknown';
}

/**
 * The days laid over one another by the clock on the wall. Each slot holds the median of the day's known standing
 * pressure in bar, or null where less than half of it is known; a slot that the clock skips is null, one that it shows
 * twice holds both. Long logs give, for weekdays and weekend, quantiles (type 7) of the days' medians instead. Weekdays
 * are those of the calendar: public holidays are not known here.
 * @param days all days of the log, as of `clockDays`
 */
export function dayOverlays(
  standing: StandingPressure,
  days: readonly ClockDay[],
  sags: readonly SagDay[],
): DayOverlays {
  const stepMinutes = standing.stepMs / 60_000;
  const slotMinutes = SLOT_MINUTES.find((minutes) => minutes >= stepMinutes) ?? SLOT_MINUTES.at(-1)!;
  const sagging = new Map<string, ('morning' | 'evening')[]>();
  for (const { day, window, state } of sags)
    if (state === 'present') sagging.set(day, [...(sagging.get(day) ?? []), window]);
  const curves = days
    .map((day) => ({ ...day, bar: curveOf(standing, day, slotMinutes), sags: sagging.get(day.date) ?? [] }))
    .filter(({ bar }) => bar.some((value) => !Number.isNaN(value)));
  if (curves.length > MOST_SINGLE_DAYS)
    return {
      slotMinutes,
      countDays: curves.length,
      days: [],
      bands: (['weekdays', 'weekend'] as const).map((kind) => {
        const alike = curves.filter(({ weekday }) => weekday > 5 === (kind === 'weekend'));
        return {
          days: kind,
          countDays: alike.length,
          saggingDays: alike.filter((curve) => curve.sags.length > 0).length,
          ...bandOf(alike.map(({ bar }) => bar)),
        };
      }),
    };
  return {
    slotMinutes,
    countDays: curves.length,
    days: curves.map(({ date, weekday, hours, bar, sags: windows }) => ({
      day: date,
      weekday,
      hours,
      sags: windows,
      bar: Array.from(bar, known),
    })),
    bands: [],
  };
}

/** Medians by slot of the clock; NaN where too little is known. */
function curveOf(standing: StandingPressure, day: ClockDay, slotMinutes: number): Float64Array {
  const slots = 1440 / slotMinutes;
  const expected = Math.max(1, Math.floor((slotMinutes * 60_000) / standing.stepMs));
  const values: number[][] = Array.from({ length: slots }, () => []);
  for (let point = day.from; point < day.to; point++) {
    const value = standing.bar[point]!;
    if (!Number.isNaN(value)) values[Math.floor(day.clockMinute(point) / slotMinutes)]!.push(value);
  }
  return Float64Array.from(values, (list) =>
    list.length < LEAST_KNOWN_OF_SLOT * expected ? Number.NaN : quantileOfSorted(sortedFinite(list), 0.5),
  );
}

function bandOf(curves: readonly Float64Array[]) {
  const sorted = Array.from({ length: curves[0]?.length ?? 0 }, (_, slot) =>
    sortedFinite(curves.map((curve) => curve[slot]!)),
  );
  const quantiles = (p: number) =>
    sorted.map((values) => (values.length < LEAST_BAND_DAYS ? null : known(quantileOfSorted(values, p))));
  return { q10: quantiles(0.1), q50: quantiles(0.5), q90: quantiles(0.9) };
}

/** Whole millibar: a curve is looked at. */
function known(value: number): number | null {
  return Number.isNaN(value) ? null : Math.round(value * 1000) / 1000;
}

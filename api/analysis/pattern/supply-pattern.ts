import type { DayOverlays, Pattern } from '../findings.ts';
import { sortedFinite } from '../statistics/quantile.ts';
import type { StandingPressure } from '../supply/standing-pressure.ts';
import { clockDays } from './clock-days.ts';
import { dayOverlays, type SagDay } from './day-overlays.ts';
import { belowThreshold, durationCurve } from './duration-curve.ts';
import { lowestHours } from './lowest-hours.ts';
import { hoursOfWeek, quantilesByHour } from './weekly-pattern.ts';

/** Five days of the week: with fewer there is no week to see. */
const LEAST_CELLS = 120;
/** A day: the shares of a shorter time are those of its hours. */
const LEAST_KNOWN_MS = 86_400_000;
/** Two days can lie over one another. */
const LEAST_DAYS = 2;
/** A day that counts for the least is known for at least half. */
const LEAST_KNOWN_OF_DAY = 0.5;

/**
 * How standing pressure (bar) goes by the hour of the local week, how long it stays below each value, and how the days
 * lie over one another. Linear in the log, but for the sorting of its minutes.
 * @param endMs end of the log
 * @param sensorSharedBar standard uncertainty that all readings share
 */
export function supplyPattern(
  standing: StandingPressure,
  endMs: number,
  timeZone: string,
  thresholdAtLoggerBar: number,
  sensorSharedBar: number,
  sags: readonly SagDay[],
): Pattern {
  const days = clockDays(standing, endMs, timeZone);
  const hours = hoursOfWeek(standing, days);
  const sorted = sortedFinite(standing.bar);
  const overlays = dayOverlays(standing, days, sags);
  const below = belowThreshold(sorted, standing.bar.length, thresholdAtLoggerBar, 2 * sensorSharedBar);
  return {
    hourOfWeek: quantilesByHour(hours),
    durationCurve: durationCurve(sorted),
    ...(below ? { below } : {}),
    lowestHours: lowestHours(hours),
    overlays,
    enough: {
      week: hours.bar.filter((values) => values.length > 0).length >= LEAST_CELLS,
      duration: sorted.length * standing.stepMs >= LEAST_KNOWN_MS,
      overlays: fullDays(overlays) >= LEAST_DAYS,
    },
  };
}

function fullDays({ days, countDays }: DayOverlays): number {
  if (days.length === 0) return countDays;
  return days.filter(({ bar }) => bar.filter((value) => value !== null).length >= LEAST_KNOWN_OF_DAY * bar.length)
    .length;
}

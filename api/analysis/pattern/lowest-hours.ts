import type { LowestHours } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import type { HoursOfWeek } from './weekly-pattern.ts';

/** A third of the smallest sag: in an ordinary street hours differ by as much (common practice, no source). */
const LEAST_TOLD_FALL_BAR = 0.1;

const KINDS: readonly { readonly days: LowestHours['days']; readonly weekdays: readonly number[] }[] = [
  { days: 'weekdays', weekdays: [0, 1, 2, 3, 4] },
  { days: 'weekend', weekdays: [5, 6] },
];

/**
 * The hours of the clock at which standing pressure is usually lowest, weekdays and weekend apart: the run of hours about
 * the lowest hourly median that lies in the lower half between the usual level (median of the hours) and it. A kind of
 * day whose hours are alike, or hardly known, has none.
 */
export function lowestHours(hours: HoursOfWeek): LowestHours[] {
  return KINDS.flatMap(({ days, weekdays }) => {
    const values = Array.from({ length: 24 }, (_, hour) => weekdays.flatMap((day) => hours.bar[day * 24 + hour]!));
    const medians = values.map((list) => median(list));
    const levelBar = median(medians);
    const lowest = medians.indexOf(Math.min(...medians.filter((bar) => !Number.isNaN(bar))));
    const lowestBar = medians[lowest] ?? Number.NaN;
    if (!(levelBar - lowestBar >= LEAST_TOLD_FALL_BAR)) return [];
    const half = (levelBar + lowestBar) / 2;
    const isLow = (hour: number) => medians[(hour + 24) % 24]! < half;
    let from = lowest;
    let to = lowest + 1;
    while (isLow(from - 1)) from--;
    while (isLow(to)) to++;
    const run = Array.from({ length: to - from }, (_, k) => (from + k + 24) % 24);
    return [
      {
        days,
        fromHour: (from + 24) % 24,
        toHour: to % 24 === 0 ? 24 : to % 24,
        medianBar: median(run.flatMap((hour) => values[hour]!)),
        levelBar,
        countDays: Math.max(...run.map((hour) => weekdays.reduce((sum, day) => sum + hours.days[day * 24 + hour]!, 0))),
      },
    ];
  });
}

import { utcOffsetMinutes } from '../../../collector/model/local-time.ts';
import type { SagSummary } from '../findings.ts';
import { quantile } from '../statistics/quantile.ts';
import { againstMidday, daysToFirm, middayChance, UNANIMOUS_DAYS } from './days-to-firm.ts';
import { isBeyondDoubt, SAG_WINDOWS, type WindowJudgement } from './sags.ts';

/** One sagging day is a day: a pattern, which chance might be asked about, begins with the second. */
export const FEWEST_DAYS_OF_A_PATTERN = 2;
const SATURDAY = 6;
const DAY_MINUTES = 1440;

/**
 * Over the log: how many days of how many, the usual time and depth, how many days lie too near to the least depth to be
 * sure of, and the chance of as many where midday falls as readily.
 * @param minDepthBar least depth of a sag
 */
export function summariseSags(judged: readonly WindowJudgement[], timeZone: string, minDepthBar: number): SagSummary[] {
  const summaries: SagSummary[] = [];
  for (const { window } of SAG_WINDOWS) {
    for (const days of ['weekdays', 'weekend'] as const) {
      const of = judged.filter((w) => w.window === window && w.weekday >= SATURDAY === (days === 'weekend'));
      if (of.length === 0) continue;
      const present = of.filter((w) => w.state === 'present');
      const known = of.filter((w) => w.state !== 'unknown');
      const depths = present.map((w) => w.depthBar!);
      const compared = known.flatMap((w) => againstMidday(w) ?? []);
      summaries.push({
        window,
        days,
        present: present.length,
        judged: known.length,
        unknown: of.length - known.length,
        inDoubt: known.filter((w) => !isBeyondDoubt(w.depthBar!, w.depthSdBar ?? 0, minDepthBar)).length,
        ...(present.length > 0
          ? {
              usualStartLocal: usualClock(present, (w) => w.startMs!, timeZone),
              usualEndLocal: usualClock(present, (w) => w.endMs!, timeZone),
              medianDepthBar: quantile(depths, 0.5),
              depthRangeBar: [quantile(depths, 0), quantile(depths, 1)] as const,
            }
          : {}),
        ...(present.length >= FEWEST_DAYS_OF_A_PATTERN && compared.length > 0
          ? {
              chance: {
                ...middayChance(compared),
                days: compared.length,
                test: `McNemar, exact, one-sided: days that fell by ${minDepthBar} bar or more in this window only, against days that did so from 11:00 to 17:00 only`,
              },
            }
          : {}),
        daysToFirm: of.some((w) => w.beyondRate)
          ? null
          : present.length > 0
            ? daysToFirm(compared)
            : Math.max(0, UNANIMOUS_DAYS - known.length),
      });
    }
  }
  return summaries;
}

/**
 * The median of times by the local clock, to five minutes: a usual time is no sharper. Minutes are counted from the
 * window's start, so that those on both sides of midnight lie side by side.
 */
function usualClock(
  days: readonly WindowJudgement[],
  atMs: (day: WindowJudgement) => number,
  timeZone: string,
): string {
  const windowStart = minuteOfDay(days[0]!.windowStartMs, timeZone);
  // A sag lies within 12 hours of its window's start on either side: half a day each way is unambiguous.
  const fromStart = days.map((day) => {
    const minutes = minuteOfDay(atMs(day), timeZone) - windowStart + DAY_MINUTES / 2;
    return ((minutes + DAY_MINUTES) % DAY_MINUTES) - DAY_MINUTES / 2;
  });
  return clock(windowStart + quantile(fromStart, 0.5));
}

function minuteOfDay(atMs: number, timeZone: string): number {
  return wrapped(atMs / 60_000 + utcOffsetMinutes(atMs, timeZone));
}

function clock(minute: number): string {
  const rounded = wrapped(Math.round(minute / 5) * 5);
  return `${String(Math.floor(rounded / 60)).padStart(2, '0')}:${String(rounded % 60).padStart(2, '0')}`;
}

function wrapped(minute: number): number {
  return ((minute % DAY_MINUTES) + DAY_MINUTES) % DAY_MINUTES;
}

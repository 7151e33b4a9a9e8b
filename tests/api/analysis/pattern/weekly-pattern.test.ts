import { describe, expect, it } from 'vitest';
import { supplyPattern } from '../../../../api/analysis/pattern/supply-pattern.ts';
import { standingFrom } from './standing-from.ts';

const LONDON = 'Europe/London';
/** Monday 2026-06-01, 00:00 in London. */
const MONDAY = Date.parse('2026-05-31T23:00:00Z');

function patternOf(
  startMs: number,
  minutes: number,
  barAt: (minute: number) => number,
  thresholdBar = 0.7,
  sharedBar = 0,
) {
  const { standing, endMs } = standingFrom(startMs, minutes, barAt);
  return supplyPattern(standing, endMs, LONDON, thresholdBar, sharedBar, []);
}

describe('the pattern of the week', () => {
  it('puts each minute into its local hour of the week, in summer time', () => {
    const { hourOfWeek } = patternOf(MONDAY, 14 * 1440, (j) => Math.floor((j % (7 * 1440)) / 60));
    expect(hourOfWeek.map((hour) => hour!.q50)).toEqual(Array.from({ length: 168 }, (_, k) => k));
    expect(hourOfWeek.every((hour) => hour!.count === 120 && hour!.days === 2)).toBe(true);
  });

  it('an hour that the clock skips has no value, the one that comes twice has two hours’ minutes', () => {
    // Reference values TI-5: London's day of 23 hours is 2026-03-29, that of 25 hours 2026-10-25, both Sundays.
    const count = (startMs: number, hour: number, hours: number) =>
      patternOf(startMs, hours * 60, () => 2).hourOfWeek[6 * 24 + hour]?.count ?? 0;
    const spring = Date.parse('2026-03-29T00:00:00Z');
    expect([0, 1, 2, 3, 23].map((hour) => count(spring, hour, 23))).toEqual([60, 0, 60, 60, 60]);
    const autumn = Date.parse('2026-10-24T23:00:00Z');
    const day = Array.from({ length: 24 }, (_, hour) => count(autumn, hour, 25));
    expect(day.reduce((sum, minutes) => sum + minutes, 0)).toBe(25 * 60);
    expect(day.indexOf(120)).toBe(1);
    expect(patternOf(autumn, 25 * 60, () => 2).hourOfWeek[6 * 24 + 1]!.days).toBe(1);
  });

  it('hours that aren’t known stay empty, and the duration curve falls from the highest to the lowest', () => {
    const { hourOfWeek, durationCurve } = patternOf(MONDAY, 7 * 1440, (j) =>
      j < 1440 ? Number.NaN : 1 + (j % 97) / 100,
    );
    expect(hourOfWeek.slice(0, 24).every((hour) => hour === null)).toBe(true);
    expect(durationCurve[0]).toEqual({ share: 0, bar: expect.closeTo(1.96, 9) });
    expect(durationCurve.at(-1)).toEqual({ share: 1, bar: expect.closeTo(1, 9) });
    for (let k = 1; k < durationCurve.length; k++) {
      expect(durationCurve[k]!.share).toBeGreaterThan(durationCurve[k - 1]!.share);
      expect(durationCurve[k]!.bar).toBeLessThanOrEqual(durationCurve[k - 1]!.bar);
    }
  });

  it('says of what there is enough to draw', () => {
    const enough = (minutes: number) => patternOf(MONDAY, minutes, () => 2).enough;
    expect(enough(12 * 60)).toEqual({ week: false, duration: false, overlays: false });
    expect(enough(2 * 1440)).toEqual({ week: false, duration: true, overlays: true });
    expect(enough(5 * 1440)).toEqual({ week: true, duration: true, overlays: true });
  });
});

describe('the time below the threshold', () => {
  /** An hour at 0.6 bar and one at 0.75 in every day of 1.5 bar; the first of four days isn't known. */
  const dips = (minute: number) =>
    minute < 1440 ? Number.NaN : minute % 1440 < 60 ? 0.6 : minute % 1440 < 120 ? 0.75 : 1.5;

  it('is a share of the known time', () => {
    const { below } = patternOf(MONDAY, 4 * 1440, dips);
    expect(below).toMatchObject({ thresholdBar: 0.7, share: 1 / 24, shareInterval: [1 / 24, 1 / 24] });
    expect(below!.knownFraction).toBeCloseTo(0.75, 12);
  });

  it('lies between the shares at the threshold less and plus the sensor’s expanded uncertainty', () => {
    // U = 2 · 0.06 bar: 0.6 bar could be 0.72, and 0.75 could be 0.63.
    expect(patternOf(MONDAY, 4 * 1440, dips, 0.7, 0.06).below!.shareInterval).toEqual([0, 2 / 24]);
  });

  it('is not told where nothing is known', () => {
    const pattern = patternOf(MONDAY, 1440, () => Number.NaN);
    expect(pattern.below).toBeUndefined();
    expect(pattern.durationCurve).toEqual([]);
    expect(pattern.lowestHours).toEqual([]);
    expect(pattern.enough).toEqual({ week: false, duration: false, overlays: false });
  });
});

describe('the lowest hours', () => {
  it('are those of the lower half of the fall, on weekdays and at the weekend by themselves', () => {
    const { lowestHours } = patternOf(MONDAY, 14 * 1440, (minute) => {
      const hour = Math.floor(minute / 60) % 24;
      const weekend = Math.floor(minute / 1440) % 7 > 4;
      if (weekend) return hour === 9 ? 1 : 1.5;
      return hour === 7 ? 0.6 : hour === 8 ? 0.8 : hour === 6 || hour === 9 ? 1.3 : 1.5;
    });
    expect(lowestHours).toEqual([
      { days: 'weekdays', fromHour: 7, toHour: 9, medianBar: expect.closeTo(0.7, 9), levelBar: 1.5, countDays: 10 },
      { days: 'weekend', fromHour: 9, toHour: 10, medianBar: 1, levelBar: 1.5, countDays: 4 },
    ]);
  });

  it('may go over midnight, or up to it', () => {
    const of = (low: readonly number[]) =>
      patternOf(MONDAY, 5 * 1440, (minute) => (low.includes(Math.floor(minute / 60) % 24) ? 1 : 2)).lowestHours;
    expect(of([22, 23, 0, 1])).toMatchObject([{ fromHour: 22, toHour: 2 }]);
    expect(of([22, 23])).toMatchObject([{ fromHour: 22, toHour: 24 }]);
    expect(of([0])).toMatchObject([{ fromHour: 0, toHour: 1 }]);
  });

  it('don’t stand out where all hours are alike', () => {
    expect(patternOf(MONDAY, 7 * 1440, (minute) => 2 + 0.04 * Math.sin(minute / 229)).lowestHours).toEqual([]);
  });
});

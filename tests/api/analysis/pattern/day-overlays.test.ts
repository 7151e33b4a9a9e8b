import fc from 'fast-check';
import { median } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { clockDays } from '../../../../api/analysis/pattern/clock-days.ts';
import { dayOverlays, MOST_SINGLE_DAYS, type SagDay } from '../../../../api/analysis/pattern/day-overlays.ts';
import { localDate, localText } from '../../../../collector/model/local-time.ts';
import { standingFrom } from './standing-from.ts';

const LONDON = 'Europe/London';
/** Monday 2026-06-01, 00:00 in London. */
const MONDAY = Date.parse('2026-05-31T23:00:00Z');
const HOUR_MS = 3_600_000;

function overlaysOf(
  startMs: number,
  points: number,
  barAt: (point: number) => number,
  { timeZone = LONDON, sags = [] as SagDay[], stepMs = 60_000 } = {},
) {
  const { standing, endMs } = standingFrom(startMs, points, barAt, stepMs);
  return dayOverlays(standing, clockDays(standing, endMs, timeZone), sags);
}

describe('days over one another', () => {
  it('each day has the median of every quarter of an hour by the local clock', () => {
    const { slotMinutes, days, bands, countDays } = overlaysOf(MONDAY, 2 * 1440, (minute) => minute / 1000);
    expect({ slotMinutes, countDays, bands }).toEqual({ slotMinutes: 15, countDays: 2, bands: [] });
    expect(days.map(({ day, weekday, hours }) => [day, weekday, hours])).toEqual([
      ['2026-06-01', 1, 24],
      ['2026-06-02', 2, 24],
    ]);
    // The median of minutes 15k to 15k + 14 is the eighth of them.
    expect(days[0]!.bar).toEqual(Array.from({ length: 96 }, (_, slot) => (15 * slot + 7) / 1000));
    expect(days[1]!.bar[0]).toBe(1.447);
  });

  it('07:00 is the same slot on the days before and after both clock changes', () => {
    // Clock changes: Directive 2000/84/EC, last Sundays of March and October at 01:00 UTC.
    const threeDays = [
      { from: '2026-03-28T00:00:00Z', hours: 71 },
      { from: '2026-10-23T23:00:00Z', hours: 73 },
    ];
    for (const { from, hours } of threeDays) {
      const startMs = Date.parse(from);
      const { days } = overlaysOf(startMs, hours * 60, (minute) =>
        localText(startMs + minute * 60_000, LONDON, 'HH') === '07' ? 0.5 : 2,
      );
      for (const { bar } of days)
        expect(bar.flatMap((value, slot) => (value === 0.5 ? [slot] : []))).toEqual([28, 29, 30, 31]);
      expect(days).toHaveLength(3);
    }
  });

  it('the hour that the clock skips is unknown on the day of 23 hours, and on no other', () => {
    const { days } = overlaysOf(Date.parse('2026-03-28T00:00:00Z'), 71 * 60, () => 2);
    expect(days.map(({ hours }) => hours)).toEqual([24, 23, 24]);
    expect(days.map(({ bar }) => bar.flatMap((value, slot) => (value === null ? [slot] : [])))).toEqual([
      [],
      [4, 5, 6, 7],
      [],
    ]);
  });

  it('the hour that comes twice on the day of 25 hours holds both', () => {
    const startMs = Date.parse('2026-10-24T23:00:00Z');
    const first = Date.parse('2026-10-25T00:00:00Z');
    const { days } = overlaysOf(startMs, 25 * 60, (minute) => {
      const atMs = startMs + minute * 60_000;
      return atMs < first ? 3 : atMs < first + HOUR_MS ? 1 : atMs < first + 2 * HOUR_MS ? 2 : 3;
    });
    expect(days).toHaveLength(1);
    expect(days[0]!.hours).toBe(25);
    expect(days[0]!.bar.slice(3, 9)).toEqual([3, 1.5, 1.5, 1.5, 1.5, 3]);
  });

  it('places that change by half an hour, or at midnight, keep their clock too', () => {
    // IANA data: Lord Howe goes from +10:30 to +11 on 2026-10-04 at 02:00; Santiago skips 00:00 to 01:00 on 2026-09-06.
    const ofDay = (date: string, timeZone: string) => {
      const { days } = overlaysOf(Date.parse(`${date}T00:00:00Z`) - 24 * HOUR_MS, 72 * 60, () => 2, { timeZone });
      const day = days.find((each) => each.day === date)!;
      return [day.hours, day.bar.flatMap((value, slot) => (value === null ? [slot] : []))];
    };
    expect(ofDay('2026-10-04', 'Australia/Lord_Howe')).toEqual([23.5, [8, 9]]);
    expect(ofDay('2026-09-06', 'America/Santiago')).toEqual([23, [0, 1, 2, 3]]);
  });

  it('a slot is unknown where less than half of it is known', () => {
    const { days } = overlaysOf(MONDAY, 1440, (minute) =>
      minute < 8 || (minute >= 30 && minute < 37) ? Number.NaN : 2,
    );
    expect(days[0]!.bar.slice(0, 4)).toEqual([null, 2, 2, 2]);
    expect(overlaysOf(MONDAY, 1440, () => Number.NaN)).toMatchObject({ countDays: 0, days: [], bands: [] });
  });

  it('tells the days that sag, and in which window', () => {
    const sag = (day: string, window: SagDay['window'], state: SagDay['state']) => ({ day, window, state });
    const { days } = overlaysOf(MONDAY, 3 * 1440, () => 2, {
      sags: [
        sag('2026-06-01', 'morning', 'present'),
        sag('2026-06-01', 'evening', 'present'),
        sag('2026-06-02', 'morning', 'absent'),
        sag('2026-06-03', 'morning', 'unknown'),
      ],
    });
    expect(days.map(({ sags }) => sags)).toEqual([['morning', 'evening'], [], []]);
  });

  it('slower logs take longer slots', () => {
    const of = (stepMinutes: number) =>
      overlaysOf(MONDAY, (2 * 1440) / stepMinutes, () => 2, { stepMs: stepMinutes * 60_000 });
    expect([1, 10, 15, 20, 60].map((minutes) => of(minutes).slotMinutes)).toEqual([15, 15, 15, 30, 60]);
    expect(of(20).days.every(({ bar }) => bar.every((value) => value === 2))).toBe(true);
  });
});

describe('a long log', () => {
  const dayBar = (day: number) => (day % 7 > 4 ? 3 : 1) + day / 1000;
  const long = (days: number) =>
    overlaysOf(MONDAY, days * 1440, (minute) => dayBar(Math.floor(minute / 1440)), {
      timeZone: LONDON,
      sags: [{ day: '2026-06-06', window: 'morning', state: 'present' }],
    });

  it('gives quantiles of weekdays and weekend, each day counting alike', () => {
    const { days, bands, countDays } = long(70);
    expect(days).toEqual([]);
    expect(countDays).toBe(70);
    expect(bands.map((band) => [band.days, band.countDays, band.saggingDays])).toEqual([
      ['weekdays', 50, 0],
      ['weekend', 20, 1],
    ]);
    const values = Array.from({ length: 70 }, (_, day) => dayBar(day));
    expect(bands[0]!.q50[40]).toBeCloseTo(median(values.filter((_, day) => day % 7 < 5)), 3);
    expect(bands[1]!.q50[40]).toBeCloseTo(median(values.filter((_, day) => day % 7 > 4)), 3);
  });

  it('is as large for ten years as for three months', () => {
    const size = (days: number) => JSON.stringify(overlaysOf(MONDAY, days * 96, () => 2, { stepMs: 900_000 })).length;
    const most = size(MOST_SINGLE_DAYS);
    expect(Math.abs(size(3653) - size(90))).toBeLessThan(10);
    expect(size(90)).toBeLessThan(most);
    expect(most).toBeLessThan(60_000);
  });
});

describe('of any log', () => {
  it('a value lies among its day’s readings, days ascend, and each has a whole clock of slots', () => {
    fc.assert(
      fc.property(
        fc.integer({
          min: Date.parse('2026-01-01T00:00:00Z') / 60_000,
          max: Date.parse('2026-12-31T00:00:00Z') / 60_000,
        }),
        fc.integer({ min: 1, max: 4000 }),
        fc.constantFrom('Europe/London', 'Pacific/Auckland', 'Asia/Kathmandu', 'America/St_Johns'),
        fc.integer({ min: 1, max: 97 }),
        (startMinute, points, timeZone, beat) => {
          const startMs = startMinute * 60_000;
          const barAt = (point: number) => (point % beat === 3 ? Number.NaN : 1 + (point % 31) / 10);
          const { days } = overlaysOf(startMs, points, barAt, { timeZone });
          const dates = days.map(({ day }) => day);
          expect([...dates].sort()).toEqual(dates);
          for (const { day, bar } of days) {
            expect(bar).toHaveLength(96);
            for (const value of bar) if (value !== null) expect(value >= 1 && value <= 4).toBe(true);
            expect(day >= localDate(startMs, timeZone)).toBe(true);
            expect(day <= localDate(startMs + (points - 1) * 60_000, timeZone)).toBe(true);
          }
        },
      ),
      { numRuns: 60 },
    );
  });

  it('adding a constant to the pressure adds it to every curve', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 3000 }), fc.integer({ min: 0, max: 5 }), (points, plus) => {
        const barAt = (point: number) => 1 + Math.abs(Math.sin(point / 211)) / 3;
        const plain = overlaysOf(MONDAY, points, barAt).days;
        const raised = overlaysOf(MONDAY, points, (point) => barAt(point) + plus).days;
        for (const [index, day] of plain.entries())
          for (const [slot, value] of day.bar.entries()) {
            const other = raised[index]!.bar[slot]!;
            if (value === null) expect(other).toBeNull();
            else expect(Math.abs(other - value - plus)).toBeLessThan(0.0011);
          }
      }),
      { numRuns: 30 },
    );
  });
});

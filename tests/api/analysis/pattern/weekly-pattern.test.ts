import { describe, expect, it } from 'vitest';
import { weeklyPattern } from '../../../../api/analysis/pattern/weekly-pattern.ts';

const MINUTE_MS = 60_000;
const LONDON = 'Europe/London';

/** A value a minute from an instant on. */
function standingFrom(startMs: number, minutes: number, barAt: (minute: number) => number) {
  const bar = Float64Array.from({ length: minutes }, (_, j) => barAt(j));
  return {
    standing: {
      startMs,
      stepMs: MINUTE_MS,
      bar,
      sdBar: new Float32Array(minutes),
      interpolated: new Uint8Array(minutes),
    },
    endMs: startMs + minutes * MINUTE_MS,
  };
}

describe('the pattern of the week', () => {
  it('puts each minute into its local hour of the week, in summer time', () => {
    // Monday 2026-06-01, 00:00 in London is 23:00 UTC of the Sunday.
    const { standing, endMs } = standingFrom(Date.parse('2026-05-31T23:00:00Z'), 14 * 1440, (j) =>
      Math.floor((j % (7 * 1440)) / 60),
    );
    const { hourOfWeek } = weeklyPattern(standing, endMs, LONDON);
    expect(hourOfWeek.map((hour) => hour!.q50)).toEqual(Array.from({ length: 168 }, (_, k) => k));
    expect(hourOfWeek.every((hour) => hour!.count === 120)).toBe(true);
  });

  it('an hour that the clock skips has no value, the one that comes twice has two hours’ minutes', () => {
    // Reference values TI-5: London's day of 23 hours is 2026-03-29, that of 25 hours 2026-10-25, both Sundays.
    const count = (startMs: number, hour: number, hours: number) => {
      const { standing, endMs } = standingFrom(startMs, hours * 60, () => 2);
      return weeklyPattern(standing, endMs, LONDON).hourOfWeek[6 * 24 + hour]?.count ?? 0;
    };
    const spring = Date.parse('2026-03-29T00:00:00Z');
    expect([0, 1, 2, 3, 23].map((hour) => count(spring, hour, 23))).toEqual([60, 0, 60, 60, 60]);
    const autumn = Date.parse('2026-10-24T23:00:00Z');
    const day = Array.from({ length: 24 }, (_, hour) => count(autumn, hour, 25));
    expect(day.reduce((sum, minutes) => sum + minutes, 0)).toBe(25 * 60);
    expect(day.indexOf(120)).toBe(1);
  });

  it('hours that aren’t known stay empty, and the duration curve falls from the highest to the lowest', () => {
    const { standing, endMs } = standingFrom(Date.parse('2026-05-31T23:00:00Z'), 7 * 1440, (j) =>
      j < 1440 ? Number.NaN : 1 + (j % 97) / 100,
    );
    const { hourOfWeek, durationCurve } = weeklyPattern(standing, endMs, LONDON);
    expect(hourOfWeek.slice(0, 24).every((hour) => hour === null)).toBe(true);
    expect(durationCurve[0]).toEqual({ share: 0, bar: expect.closeTo(1.96, 9) });
    expect(durationCurve.at(-1)).toEqual({ share: 1, bar: expect.closeTo(1, 9) });
    for (let k = 1; k < durationCurve.length; k++) {
      expect(durationCurve[k]!.bar).toBeLessThanOrEqual(durationCurve[k - 1]!.bar);
    }
  });
});

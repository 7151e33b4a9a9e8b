import { describe, expect, it } from 'vitest';
import { summariseSags } from '../../../../api/analysis/supply/sag-summary.ts';
import type { WindowJudgement } from '../../../../api/analysis/supply/sags.ts';

const DAY_MS = 86_400_000;
/** Monday 2026-01-05, 00:00 UTC, which London shares in winter. */
const MONDAY_MS = Date.parse('2026-01-05T00:00:00Z');

function morning(day: number, state: WindowJudgement['state'], depthBar: number, startMinute = 390): WindowJudgement {
  const midnightMs = MONDAY_MS + day * DAY_MS;
  return {
    day: new Date(midnightMs).toISOString().slice(0, 10),
    weekday: (day % 7) + 1,
    window: 'morning',
    windowStartMs: midnightMs + 5 * 3_600_000,
    state,
    ...(state === 'unknown' ? { reason: 'a gap' } : { depthBar, depthSdBar: 0.01, midday: 'absent' as const }),
    ...(state === 'present'
      ? { startMs: midnightMs + startMinute * 60_000, endMs: midnightMs + (startMinute + 90) * 60_000 }
      : {}),
  };
}

describe('the summary of sags', () => {
  const days = [
    morning(0, 'present', 0.5, 381),
    morning(1, 'present', 0.7, 390),
    morning(2, 'absent', 0.1),
    morning(3, 'unknown', 0),
    morning(4, 'present', 0.6, 402),
    morning(5, 'absent', 0.08),
    morning(6, 'absent', 0.06),
  ];

  it('says how many of how many, and what couldn’t be judged, on weekdays and weekends apart', () => {
    const [weekdays, weekend] = summariseSags(days, 'Europe/London', 0.3);
    expect(weekdays).toMatchObject({ window: 'morning', days: 'weekdays', present: 3, judged: 4, unknown: 1 });
    expect(weekend).toMatchObject({ window: 'morning', days: 'weekend', present: 0, judged: 2, unknown: 0 });
    expect(weekend).not.toHaveProperty('medianDepthBar');
    expect(weekend).not.toHaveProperty('chance');
  });

  it('gives the usual time and depth as medians, to five minutes', () => {
    const [weekdays] = summariseSags(days, 'Europe/London', 0.3);
    expect(weekdays).toMatchObject({
      usualStartLocal: '06:30',
      usualEndLocal: '08:00',
      medianDepthBar: 0.6,
      depthRangeBar: [0.5, 0.7],
    });
  });

  it('counts days whose fall is within its uncertainty of the least that counts', () => {
    const near = [morning(0, 'present', 0.315), morning(1, 'absent', 0.285), morning(2, 'present', 0.33)];
    expect(summariseSags(near, 'Europe/London', 0.3)[0]).toMatchObject({ inDoubt: 2 });
  });

  it('asks chance about the days that sagged, not about how deep ordinary demand dips', () => {
    // Ten weekdays fall a little more in the morning than at midday, none, one or five of them by a sag's depth. McNemar,
    // exact: the sign test of the days that sagged in the morning only, 2⁻⁵ for five (Conover, 3.5).
    const ten = (sags: number) =>
      [0, 1, 2, 3, 4, 7, 8, 9, 10, 11].map((day, i) =>
        i < sags ? morning(day, 'present', 0.5 + day / 100) : morning(day, 'absent', 0.06 + day / 1000),
      );
    const chance = (sags: number) => summariseSags(ten(sags), 'Europe/London', 0.3)[0]!.chance;
    expect(chance(0)).toBeUndefined();
    expect(chance(1)).toBeUndefined();
    expect(chance(5)).toMatchObject({ days: 10, onlyHere: 5, onlyMidday: 0 });
    expect(chance(5)!.p).toBeCloseTo(1 / 32, 12);
    expect(chance(2)!.p).toBeCloseTo(1 / 4, 12);
  });

  it('gives the usual time of sags that end on both sides of midnight', () => {
    const late = (day: number, endMinute: number): WindowJudgement => {
      const midnightMs = MONDAY_MS + day * DAY_MS;
      return {
        ...morning(day, 'present', 0.5),
        window: 'evening',
        windowStartMs: midnightMs + 17 * 3_600_000,
        startMs: midnightMs + 19 * 3_600_000,
        endMs: midnightMs + endMinute * 60_000,
      };
    };
    const evenings = [late(0, 23 * 60 + 30), late(1, 24 * 60)];
    expect(summariseSags(evenings, 'Europe/London', 0.3)[0]).toMatchObject({
      usualStartLocal: '19:00',
      usualEndLocal: '23:45',
    });
    expect(summariseSags([late(0, 23 * 60 + 58), late(1, 24 * 60)], 'Europe/London', 0.3)[0]).toMatchObject({
      usualEndLocal: '00:00',
    });
  });

  it('gives the usual time of sags that began before their window, by the clock of each day', () => {
    const [weekdays] = summariseSags(
      [morning(0, 'present', 0.5, 200), morning(1, 'present', 0.5, 220)],
      'Europe/London',
      0.3,
    );
    expect(weekdays).toMatchObject({ usualStartLocal: '03:30', usualEndLocal: '05:00' });
  });
});

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
    ...(state === 'unknown' ? { reason: 'a gap' } : { depthBar, middayFallBar: 0.05 }),
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
    const [weekdays, weekend] = summariseSags(days, 'Europe/London');
    expect(weekdays).toMatchObject({ window: 'morning', days: 'weekdays', present: 3, judged: 4, unknown: 1 });
    expect(weekend).toMatchObject({ window: 'morning', days: 'weekend', present: 0, judged: 2, unknown: 0 });
    expect(weekend).not.toHaveProperty('medianDepthBar');
    expect(weekend).not.toHaveProperty('chance');
  });

  it('gives the usual time and depth as medians, to five minutes', () => {
    const [weekdays] = summariseSags(days, 'Europe/London');
    expect(weekdays).toMatchObject({
      usualStartLocal: '06:30',
      usualEndLocal: '08:00',
      medianDepthBar: 0.6,
      depthRangeBar: [0.5, 0.7],
    });
  });

  it('its chance is the signed rank’s: five days of five deeper than midday, 1 in 32', () => {
    // Exact one-sided distribution of the Wilcoxon signed rank: P(T⁺ = 15 | n = 5) = 2⁻⁵ (Hollander and Wolfe, ch. 3).
    const five = [0.5, 0.62, 0.71, 0.55, 0.8].map((depth, day) => morning(day, 'present', depth));
    expect(summariseSags(five, 'Europe/London')[0]!.chance!.p).toBeCloseTo(1 / 32, 12);
    expect(summariseSags(five.slice(0, 2), 'Europe/London')[0]).not.toHaveProperty('chance');
  });
});

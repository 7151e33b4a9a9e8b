import { describe, expect, it } from 'vitest';
import { findSags, isBeyondDoubt } from '../../../../api/analysis/supply/sags.ts';
import type { StandingPressure } from '../../../../api/analysis/supply/standing-pressure.ts';

/** Monday 2026-01-05, 00:00 UTC, which London shares in winter. */
const MONDAY_MS = Date.parse('2026-01-05T00:00:00Z');
const HOUR_MS = 3_600_000;

/** Standing pressure of one day, known to 0.01 bar: 2 bar less what has fallen at an hour of the clock. */
function oneDay(fallBar: (hour: number) => number, stepMs = 60_000): { standing: StandingPressure; endMs: number } {
  const points = (24 * HOUR_MS) / stepMs;
  const bar = Float64Array.from({ length: points }, (_, j) => 2 - fallBar((j * stepMs) / HOUR_MS));
  return {
    standing: {
      startMs: MONDAY_MS,
      stepMs,
      bar,
      sdBar: new Float32Array(points).fill(0.01),
      interpolated: new Uint8Array(points),
    },
    endMs: MONDAY_MS + 24 * HOUR_MS,
  };
}

const judged = (fallBar: (hour: number) => number, stepMs?: number) => {
  const { standing, endMs } = oneDay(fallBar, stepMs);
  return findSags(standing, endMs, 'Europe/London', 0.3);
};
/** A fall between two hours, straight down and up within a quarter of an hour at each end. */
const fall = (from: number, to: number, depthBar: number) => (hour: number) =>
  depthBar * Math.min(1, Math.max(0, (hour - from) * 4), Math.max(0, (to - hour) * 4));

describe('a day beside its own midday', () => {
  it('fell in the morning only, or at midday only, or in neither', () => {
    expect(judged(fall(7, 8.5, 0.6))[0]).toMatchObject({ state: 'present', midday: 'absent' });
    expect(judged(fall(13, 14, 0.6))[0]).toMatchObject({ state: 'absent', midday: 'present' });
    expect(judged(fall(7, 8.5, 0.1))[0]).toMatchObject({ state: 'absent', midday: 'absent' });
  });

  it('the last hour of a morning’s sag and the first of an evening’s are no fall of midday', () => {
    expect(judged(fall(9.5, 11.6, 0.9))[0]).toMatchObject({ window: 'morning', state: 'present', midday: 'absent' });
    expect(judged(fall(16.4, 19, 0.9))[1]).toMatchObject({ window: 'evening', state: 'present', midday: 'absent' });
  });

  it('a fall of the whole day is one of midday too', () => {
    const [morning, evening] = judged(fall(6, 22, 0.6));
    expect(morning).toMatchObject({ state: 'present', midday: 'present', recovered: false });
    expect(evening).toMatchObject({ state: 'present', midday: 'present' });
  });

  it('a midday that isn’t known says nothing', () => {
    const hole = (hour: number) => (hour > 12 && hour < 15 ? Number.NaN : fall(7, 8.5, 0.6)(hour));
    expect(judged(hole)[0]).toMatchObject({ state: 'present', midday: 'unknown' });
  });
});

describe('a rate that can’t show a 5-minute mean', () => {
  it('shows no sag and no absence of one', () => {
    for (const stepMs of [900_000, HOUR_MS])
      for (const window of judged(fall(7, 8.5, 0.6), stepMs)) {
        expect(window).toMatchObject({ state: 'unknown', beyondRate: true });
        expect(window.reason).toMatch(/^one reading in (15 min|60 min) can’t show a 5-minute mean$/);
        expect(window).not.toHaveProperty('depthBar');
      }
  });

  it('five minutes still show it', () => {
    expect(judged(fall(7, 8.5, 0.6), 300_000)[0]).toMatchObject({ state: 'present' });
  });
});

describe('a fall behind the household’s draws', () => {
  const withDoubt = (depthBar: number, sdBar: number) => {
    const { standing, endMs } = oneDay(fall(7, 8.5, depthBar));
    const doubted = standing.sdBar.map((sd, j) => (j >= 7 * 60 && j < 8.5 * 60 ? sdBar : sd));
    return findSags({ ...standing, sdBar: doubted }, endMs, 'Europe/London', 0.3)[0]!;
  };

  it('that may be too small by what its draws leave open can’t be told, and says by how much', () => {
    const [sag, unsure] = [withDoubt(0.34, 0.06), withDoubt(0.34, 0.01)];
    expect(sag).toMatchObject({ state: 'unknown', depthBar: expect.closeTo(0.34, 2) });
    expect(sag.reason).toContain('0.34 ± 0.12 bar');
    expect(unsure.state).toBe('present');
  });

  it('that is deep enough whatever they leave open is a sag', () => {
    expect(withDoubt(0.6, 0.06).state).toBe('present');
  });
});

it('a depth is beyond doubt from its expanded uncertainty on, k = 2 (JCGM 100, 6.3.3)', () => {
  expect(isBeyondDoubt(0.33, 0.015, 0.3)).toBe(true);
  expect(isBeyondDoubt(0.32, 0.015, 0.3)).toBe(false);
  expect(isBeyondDoubt(0.26, 0.015, 0.3)).toBe(true);
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { usualHours } from '../../../../api/analysis/pump/usual-hours.ts';

const HOUR_MS = 3_600_000;
/** Wednesday 2026-01-07, 00:00 UTC, which London shares in winter. */
const MIDNIGHT_MS = Date.parse('2026-01-07T00:00:00Z');
const spell = (from: number, to: number) => ({
  startMs: MIDNIGHT_MS + from * HOUR_MS,
  endMs: MIDNIGHT_MS + to * HOUR_MS,
});

describe('the hours that hold most of many spells', () => {
  it.each([
    [
      'runs of a rush are told by its quarter hours, not by six hours about it',
      [6.5, 6.8, 7.2, 7.9].map((at) => spell(at, at + 0.1)),
      'between 06:30 and 08:00',
    ],
    [
      'a stray one of five does not widen them',
      [...[6.5, 6.8, 7.2, 7.9].map((at) => spell(at, at + 0.1)), spell(21, 21.1)],
      'between 06:30 and 08:00',
    ],
    ['over midnight', [spell(23.6, 23.7), spell(24.2, 24.3), spell(0.4, 0.5)], 'between 23:30 and 00:30'],
    ['all over the day', [spell(1, 1.1), spell(7, 7.1), spell(13, 13.1), spell(19, 19.1)], undefined],
    ['a moment', [spell(6.5, 6.5)], 'between 06:30 and 06:45'],
  ])('%s', (_name, spells, words) => {
    expect(usualHours(spells, 'Europe/London')).toBe(words);
  });

  it('are those of the clock at the site', () => {
    expect(usualHours([spell(6.5, 6.7)], 'Asia/Kathmandu')).toBe('between 12:15 and 12:30');
  });

  it('hold at least four of five spells whole', () => {
    const spells = fc.array(
      fc.tuple(fc.integer({ min: 0, max: 1439 }), fc.integer({ min: 0, max: 90 })).map(([from, minutes]) => ({
        from,
        to: from + minutes,
      })),
      { minLength: 1, maxLength: 30 },
    );
    fc.assert(
      fc.property(spells, (minutes) => {
        const words = usualHours(
          minutes.map(({ from, to }) => spell(from / 60, to / 60)),
          'UTC',
        );
        const [, h1, m1, h2, m2] = /between (\d\d):(\d\d) and (\d\d):(\d\d)/.exec(words ?? '') ?? [];
        if (h1 === undefined) return;
        const begin = 60 * Number(h1) + Number(m1);
        const length = (60 * Number(h2) + Number(m2) - begin + 1440) % 1440;
        const inside = minutes.filter(({ from, to }) => ((from - begin + 1440) % 1440) + to - from <= length + 1e-6);
        expect(inside.length).toBeGreaterThanOrEqual(0.8 * minutes.length);
      }),
    );
  });
});

import { describe, expect, it } from 'vitest';
import {
  chanceInWords,
  duration,
  figure,
  interval95,
  inWords,
  localClock,
  localMoment,
  plural,
  windowsInWords,
} from '../../../../api/analysis/evidence/wording.ts';

describe('words of the evidence', () => {
  it('name a moment as people do, by the clock at the site, on both sides of the clock change', () => {
    // Europe/London leaves summer time on 2026-10-25 at 01:00 UTC (IANA data).
    expect(localMoment(Date.UTC(2026, 9, 24, 6, 17), 'Europe/London')).toBe('Saturday 24 October 2026 at 07:17');
    expect(localMoment(Date.UTC(2026, 9, 26, 6, 17), 'Europe/London')).toBe('Monday 26 October 2026 at 06:17');
    expect(localClock(Date.UTC(2026, 0, 1, 0, 5), 'Asia/Kathmandu')).toBe('05:50');
  });

  it('count small numbers in words and agree in number', () => {
    expect(plural(1, 'morning or evening', 'mornings or evenings')).toBe('one morning or evening');
    expect(plural(2, 'period')).toBe('two periods');
    expect(inWords(21)).toBe('21');
  });

  it('write a true minus sign, no minus before nought, and intervals that keep together', () => {
    expect(figure(-0.07)).toBe('\u22120.07');
    expect(figure(-0.001)).toBe('0.00');
    const interval = interval95([-0.07, 0.12], (value) => figure(value));
    expect(interval).toBe(' (95\u00a0%:\u00a0\u22120.07 to\u00a00.12)');
    expect(interval95(undefined, String)).toBe('');
    expect(interval95([3.1, 3.4], String, 'l')).toBe(' (95\u00a0%:\u00a03.1 to\u00a03.4\u00a0l)');
  });

  it('name one window as one, and several as several', () => {
    expect(windowsInWords({ window: 'morning', days: 'weekdays' }, 1)).toBe('weekday morning');
    expect(windowsInWords({ window: 'evening', days: 'weekend' }, 2)).toBe('weekend evenings');
  });

  it('tell a chance as a share of the time', () => {
    expect([0.0004, 1 / 32, 0.5, 1].map((p) => chanceInWords(p))).toEqual([
      'less than 0.1\u00a0%',
      '3.1\u00a0%',
      '50.0\u00a0%',
      '100\u00a0%',
    ]);
  });

  it('tell lengths in the unit that people would', () => {
    const S = 1000;
    expect([5, 90, 180, 2700, 37_560, 54_000, 172_800, 180_000].map((seconds) => duration(seconds * S))).toEqual([
      '5 s',
      '90 s',
      '3 min',
      '45 min',
      '10 h 26 min',
      '15 h',
      '2 days',
      '2 days 2 h',
    ]);
  });
});

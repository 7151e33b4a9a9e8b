import { describe, expect, it } from 'vitest';
import { inWords, localClock, localMoment, plural } from '../../../../api/analysis/evidence/wording.ts';

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
});

import { describe, expect, it } from 'vitest';
import { lossWords, readKeepDays } from '../../../ui/pages/keep-days.ts';

const NOW_MS = Date.parse('2026-05-20T12:00:00Z');
const site = { first: '2026-05-01T00:00:00Z', keepRawDays: null, timeZone: 'Europe/London' };

describe('for how long single readings are kept', () => {
  it.each([
    ['', null],
    [' 400 ', 400],
    ['36525', 36_525],
  ])('is whole days, or for good where nothing is typed: “%s”', (typed, days) => {
    expect(readKeepDays(typed)).toBe(days);
  });

  it.each(['0', '1.5', '-3', '40000', '1e2', 'a year'])('is asked again, with what was typed: “%s”', (typed) => {
    expect(readKeepDays(typed)).toContain(`“${typed}”`);
  });

  it('is set knowing from when to when readings are lost by it', () => {
    expect(lossWords(site, 7, NOW_MS)).toMatch(/from 1 May 2026, 01:00 to 13 May 2026, 13:00 for good/);
    expect(lossWords({ ...site, keepRawDays: 10 }, 7, NOW_MS)).toMatch(/from 10 May 2026, 13:00 to 13 May 2026, 13:00/);
  });

  it.each([
    ['kept for good', site, null],
    ['kept longer than the log is', site, 30],
    ['kept longer than until now', { ...site, keepRawDays: 7 }, 10],
    ['no log yet', { ...site, first: null }, 1],
  ])('warns of nothing where nothing is lost: %s', (_, given, days) => {
    expect(lossWords(given, days, NOW_MS)).toBeUndefined();
  });
});

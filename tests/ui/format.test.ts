import { describe, expect, it } from 'vitest';
import * as format from '../../ui/format.ts';
import { createSiteTime } from '../../ui/site-time.ts';

const time = createSiteTime('Europe/London');
const NB = '\u00a0';

describe('figures', () => {
  it.each([
    ['two decimals and the unit', format.bar(2.404), `2.40${NB}bar`],
    ['a real minus sign', format.bar(-0.25), `\u22120.25${NB}bar`],
    ['no minus on nought', format.bar(-0.001), `0.00${NB}bar`],
    ['an uncertainty is rounded up', format.uncertaintyBar(0.1155), `±0.12${NB}bar`],
    ['an uncertainty that is round stays', format.uncertaintyBar(0.12), `±0.12${NB}bar`],
    ['a share that is nearly all is not called all', format.percent(0.998), `over 99${NB}%`],
    ['a share that is nearly none is not called none', format.percent(0.001), `under 1${NB}%`],
    ['large numbers in groups of three', format.largeNumber(1234567), '1\u202f234\u202f567'],
    ['a pump is on or off', format.valueWithUnit(1, 'on/off'), 'on'],
    // ISO 80000-1 7.2: a space between figure and unit; SI brochure 5.4.4 likewise.
    ['a percentage has its space', format.percent(0.5), `50${NB}%`],
  ])('%s', (_claim, text, expected) => {
    expect(text).toBe(expected);
  });
});

describe('times', () => {
  it('are the site’s, summer time included', () => {
    expect(format.clock(Date.UTC(2026, 4, 4, 6, 5), time)).toBe('07:05');
    expect(format.dateAndClock(Date.UTC(2026, 11, 4, 6, 5), time)).toBe('4 Dec 2026, 06:05');
  });

  it('show seconds only where a minute wouldn’t tell the ends apart', () => {
    const from = Date.UTC(2026, 4, 4, 6, 5, 10);
    expect(format.clockRange(from, from + 40_000, time)).toBe('07:05:10–07:05:50');
    expect(format.clockRange(from, from + 5_700_000, time)).toBe('07:05–08:40');
    expect(format.clockRange(from, from, time)).toBe('07:05:10');
  });

  it('name a whole local day as the day, also one of 25 hours', () => {
    const day = time.dayOf(Date.UTC(2026, 9, 25, 12));
    expect(format.spanInWords(day.startMs, day.endMs, time)).toBe('25 Oct 2026');
  });

  it('give the weekday of a date', () => {
    // 4 May 2026 is a Monday (any calendar).
    expect(format.dateInWords('2026-05-04')).toBe('Monday 4 May');
  });

  it.each([
    [45_000, `45${NB}s`],
    [720_000, `12${NB}min`],
    [95 * 60_000, `95${NB}min`],
    [125 * 60_000, `2${NB}h${NB}5${NB}min`],
    [25 * 3_600_000, `25${NB}h`],
    [72 * 3_600_000, `3${NB}days`],
  ])('say %i ms as a duration', (ms, expected) => {
    expect(format.duration(ms)).toBe(expected);
  });
});

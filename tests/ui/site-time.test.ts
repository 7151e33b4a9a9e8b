import fc from 'fast-check';
import { afterEach, describe, expect, it } from 'vitest';
import * as luxonTime from '../../collector/model/local-time.ts';
import { createSiteTime } from '../../ui/site-time.ts';

// Summer time in the European Union and the United Kingdom begins on the last Sunday of March and ends on the last of
// October, both at 01:00 UTC: Directive 2000/84/EC, articles 2 and 3 (in the UK by SI 2002/262). In 2026 these are 29
// March and 25 October. Zones further away follow the IANA time zone database, through luxon as an independent reader.
const ZONES = [
  'Europe/London',
  'Europe/Athens',
  'America/St_Johns',
  'Australia/Adelaide',
  'Australia/Lord_Howe',
  'Asia/Kathmandu',
  'Africa/Cairo',
  'UTC',
];
const VIEWERS = ['UTC', 'Europe/London', 'America/New_York', 'Pacific/Auckland', 'Australia/Lord_Howe'];

const viewerBefore = process.env['TZ'];
afterEach(() => {
  if (viewerBefore === undefined) delete process.env['TZ'];
  else process.env['TZ'] = viewerBefore;
});

describe.each(VIEWERS)('local time at a site, read in %s', (viewer) => {
  it('gives the days of the European clock changes 23 and 25 hours', () => {
    process.env['TZ'] = viewer;
    const time = createSiteTime('Europe/London');
    const lengthH = (atMs: number) => {
      const day = time.dayOf(atMs);
      return (day.endMs - day.startMs) / 3_600_000;
    };
    expect(lengthH(Date.UTC(2026, 2, 29, 12))).toBe(23);
    expect(lengthH(Date.UTC(2026, 9, 25, 12))).toBe(25);
    expect(lengthH(Date.UTC(2026, 5, 1, 12))).toBe(24);
  });

  it('puts the change of the clocks at 01:00 UTC', () => {
    process.env['TZ'] = viewer;
    for (const zone of ['Europe/London', 'Europe/Athens'])
      for (const changeMs of [Date.UTC(2026, 2, 29, 1), Date.UTC(2026, 9, 25, 1)]) {
        const time = createSiteTime(zone);
        const [before, after] = time.stretchesOf(time.dayOf(changeMs));
        expect([before?.endMs, after?.startMs]).toEqual([changeMs, changeMs]);
      }
  });

  it('agrees with an independent library on dates, day edges and offsets', () => {
    process.env['TZ'] = viewer;
    const instants = fc.integer({ min: Date.UTC(2005, 0, 1), max: Date.UTC(2035, 0, 1) });
    fc.assert(
      fc.property(fc.constantFrom(...ZONES), instants, (zone, atMs) => {
        const time = createSiteTime(zone);
        const day = time.dayOf(atMs);
        expect(day.date).toBe(luxonTime.localDate(atMs, zone));
        expect(day.startMs).toBe(luxonTime.startOfLocalDay(atMs, zone));
        expect(day.endMs).toBe(luxonTime.startOfNextLocalDay(atMs, zone));
        expect(time.offsetMinutes(atMs)).toBe(luxonTime.utcOffsetMinutes(atMs, zone));
      }),
      { numRuns: 150 },
    );
  });
});

describe('instants of local times', () => {
  const time = createSiteTime('Europe/London');

  it.each([
    ['an ordinary morning', '2026-05-04', 7, 5, Date.UTC(2026, 4, 4, 6, 5)],
    ['a repeated time is the first', '2026-10-25', 1, 30, Date.UTC(2026, 9, 25, 0, 30)],
    ['a skipped time is the instant after the change', '2026-03-29', 1, 30, Date.UTC(2026, 2, 29, 1, 30)],
    ['24:00 is the next midnight', '2026-10-25', 24, 0, Date.UTC(2026, 9, 26)],
  ])('%s', (_claim, date, hour, minute, expected) => {
    expect(time.instantOf(date, hour, minute)).toBe(expected);
  });

  it('agrees with an independent library at every quarter of an hour around both changes', () => {
    for (const zone of ZONES)
      for (const date of ['2026-03-29', '2026-10-25', '2026-04-05', '2026-10-04'])
        for (let quarter = 0; quarter < 96; quarter++) {
          const [hour, minute] = [Math.floor(quarter / 4), (quarter % 4) * 15];
          const wanted = luxonTime.instantOfLocal(date, hour, minute, zone);
          const found = createSiteTime(zone).instantOf(date, hour, minute);
          expect(`${zone} ${date} ${quarter} ${found}`).toBe(`${zone} ${date} ${quarter} ${wanted}`);
        }
  });

  it('starts a day that has no midnight at the change', () => {
    // Cairo's clocks went from 24:00 on Thursday 27 April 2023 to 01:00 on Friday: IANA time zone database, file africa.
    const cairo = createSiteTime('Africa/Cairo');
    expect(cairo.dayOf(Date.UTC(2023, 3, 28, 12)).startMs).toBe(Date.UTC(2023, 3, 27, 22));
  });
});

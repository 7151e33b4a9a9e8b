import fc from 'fast-check';
import { afterEach, describe, expect, it } from 'vitest';
import { axisSplits, nightSpans } from '../../../ui/chart/axis-splits.ts';
import { createSiteTime } from '../../../ui/site-time.ts';

// Clock changes: Directive 2000/84/EC, last Sundays of March and October at 01:00 UTC.
const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const VIEWERS = ['UTC', 'America/New_York', 'Europe/London', 'Australia/Lord_Howe'];
const viewerBefore = process.env['TZ'];
afterEach(() => {
  if (viewerBefore === undefined) delete process.env['TZ'];
  else process.env['TZ'] = viewerBefore;
});

describe.each(VIEWERS)('the time axis, read in %s', (viewer) => {
  const labels = (fromMs: number, toMs: number, most: number, zone = 'Europe/London') => {
    process.env['TZ'] = viewer;
    return axisSplits(fromMs, toMs, most, createSiteTime(zone)).map((split) => split.label.split('\n')[0]);
  };

  it('leaves out the hour that the spring change skips', () => {
    const from = Date.UTC(2026, 2, 29);
    expect(labels(from, from + 5 * HOUR, 6)).toEqual(['00:00', '02:00', '03:00', '04:00', '05:00', '06:00']);
  });

  it('shows the hour that the autumn change repeats twice', () => {
    const from = Date.UTC(2026, 9, 24, 23);
    expect(labels(from, from + 5 * HOUR, 6)).toEqual(['00:00', '01:00', '01:00', '02:00', '03:00', '04:00']);
  });

  it('keeps six-hourly marks on the wall clock over a change', () => {
    const from = Date.UTC(2026, 2, 28);
    expect(labels(from, from + 2 * DAY - HOUR, 8)).toEqual([
      '00:00',
      '06:00',
      '12:00',
      '18:00',
      '00:00',
      '06:00',
      '12:00',
      '18:00',
      '00:00',
    ]);
  });

  it('puts daily marks at local midnights of 23, 24 and 25 hours', () => {
    process.env['TZ'] = viewer;
    const time = createSiteTime('Europe/London');
    const from = Date.UTC(2026, 9, 23, 12);
    const at = axisSplits(from, from + 5 * DAY, 5, time).map((split) => split.atMs);
    expect(at).toEqual([
      Date.UTC(2026, 9, 23, 23),
      Date.UTC(2026, 9, 24, 23),
      Date.UTC(2026, 9, 26),
      Date.UTC(2026, 9, 27),
      Date.UTC(2026, 9, 28),
    ]);
  });

  it('counts on the wall clock of a zone of half an hour', () => {
    const from = Date.UTC(2026, 0, 14, 13, 30);
    expect(labels(from, from + 6 * HOUR, 6, 'Australia/Adelaide')[0]).toBe('00:00');
  });
});

describe('splits of any span', () => {
  it('ascend strictly, lie inside and are few enough', () => {
    const zones = fc.constantFrom('Europe/London', 'America/St_Johns', 'Australia/Lord_Howe', 'Asia/Kathmandu');
    const from = fc.integer({ min: Date.UTC(2020, 0, 1), max: Date.UTC(2030, 0, 1) });
    const length = fc.double({ min: 4, max: 10.54, noNaN: true }).map((exponent) => Math.round(10 ** exponent));
    fc.assert(
      fc.property(zones, from, length, fc.integer({ min: 2, max: 16 }), (zone, fromMs, lengthMs, most) => {
        const splits = axisSplits(fromMs, fromMs + lengthMs, most, createSiteTime(zone));
        for (const [index, split] of splits.entries()) {
          expect(split.atMs).toBeGreaterThanOrEqual(fromMs);
          expect(split.atMs).toBeLessThanOrEqual(fromMs + lengthMs);
          if (index > 0) expect(split.atMs).toBeGreaterThan(splits[index - 1]!.atMs);
        }
        // One more at the edge, and one more where an hour comes twice; months are of unequal length.
        expect(splits.length).toBeLessThanOrEqual(most + 3);
      }),
      { numRuns: 200 },
    );
  });
});

describe('night', () => {
  it('runs over midnight as one span and follows the wall clock through a change', () => {
    const time = createSiteTime('Europe/London');
    const from = Date.UTC(2026, 2, 28, 12);
    const nights = nightSpans(from, from + DAY, { fromHour: 23, toHour: 5 }, time);
    expect(nights).toEqual([{ fromMs: Date.UTC(2026, 2, 28, 23), toMs: Date.UTC(2026, 2, 29, 4) }]);
  });
});

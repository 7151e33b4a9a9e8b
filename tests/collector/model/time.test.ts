import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { formatRfc3339, parseRfc3339 } from '../../../collector/model/instant.ts';
import {
  instantOfLocal,
  isTimeZone,
  localDate,
  localDays,
  startOfLocalDay,
  utcOffsetMinutes,
} from '../../../collector/model/local-time.ts';

describe('RFC 3339 date-times', () => {
  // The examples of RFC 3339 section 5.8.
  it.each([
    ['1985-04-12T23:20:50.52Z', Date.UTC(1985, 3, 12, 23, 20, 50, 520)],
    ['1996-12-19T16:39:57-08:00', Date.UTC(1996, 11, 20, 0, 39, 57)],
    ['1937-01-01T12:00:27.87+00:20', Date.UTC(1937, 0, 1, 11, 40, 27, 870)],
    // A leap second is read as the second before it; both spellings of the RFC name the same instant.
    ['1990-12-31T23:59:60Z', Date.UTC(1990, 11, 31, 23, 59, 59)],
    ['1990-12-31T15:59:60-08:00', Date.UTC(1990, 11, 31, 23, 59, 59)],
    ['2026-05-04t06:31:07z', Date.UTC(2026, 4, 4, 6, 31, 7)],
  ])('%s', (text, expected) => expect(parseRfc3339(text)).toBe(expected));

  it.each([
    '2026-02-30T00:00:00Z',
    '2026-13-01T00:00:00Z',
    '2026-05-04T24:00:00Z',
    '2026-05-04T06:31:07',
    '2026-05-04 06:31:07Z',
    '2026-05-04',
    '',
    '20260504T063107Z',
    '2026-05-04T06:61:00Z',
  ])('%s is none', (text) => expect(parseRfc3339(text)).toBeUndefined());

  it('what is written is read back to the millisecond', () => {
    fc.assert(
      fc.property(fc.integer({ min: Date.UTC(2000, 0, 1), max: Date.UTC(2100, 0, 1) }), (atMs) => {
        expect(parseRfc3339(formatRfc3339(atMs))).toBe(atMs);
      }),
    );
  });
});

describe('local days', () => {
  // Clock changes of the IANA time-zone data (Europe/London 2026 and 2027, Australia/Sydney 2026, Asia/Kathmandu without).
  it.each([
    ['2026-03-29', 'Europe/London', 23],
    ['2026-10-25', 'Europe/London', 25],
    ['2027-03-28', 'Europe/London', 23],
    ['2027-10-31', 'Europe/London', 25],
    ['2026-04-05', 'Australia/Sydney', 25],
    ['2026-10-04', 'Australia/Sydney', 23],
    ['2026-07-01', 'Asia/Kathmandu', 24],
  ])('%s in %s has %d hours', (date, zone, hours) => {
    const start = instantOfLocal(date, 0, 0, zone);
    const [day] = localDays(start, start + 1, zone);
    expect(day).toMatchObject({ date, startMs: start });
    expect((day!.endMs - day!.startMs) / 3_600_000).toBe(hours);
    expect(instantOfLocal(date, 24, 0, zone)).toBe(day!.endMs);
  });

  it('a local time that the autumn change repeats is the first of the two', () => {
    expect(formatRfc3339(instantOfLocal('2026-10-25', 1, 30, 'Europe/London'))).toBe('2026-10-25T00:30:00Z');
  });

  it('a local time that the spring change skips is an hour later on the clock', () => {
    expect(formatRfc3339(instantOfLocal('2026-03-29', 1, 30, 'Europe/London'))).toBe('2026-03-29T01:30:00Z');
  });

  it('days follow one another without hole or overlap, in any zone', () => {
    const zones = [
      'Europe/London',
      'America/St_Johns',
      'Australia/Lord_Howe',
      'Asia/Kathmandu',
      'America/Santiago',
      'UTC',
    ];
    fc.assert(
      fc.property(
        fc.constantFrom(...zones),
        fc.integer({ min: Date.UTC(2020, 0, 1), max: Date.UTC(2030, 0, 1) }),
        fc.integer({ min: 1, max: 40 }),
        (zone, fromMs, days) => {
          const found = localDays(fromMs, fromMs + days * 86_400_000, zone);
          expect(found[0]!.startMs).toBeLessThanOrEqual(fromMs);
          for (const [index, day] of found.entries()) {
            expect(startOfLocalDay(day.endMs - 1, zone)).toBe(day.startMs);
            expect(localDate(day.startMs, zone)).toBe(day.date);
            if (index > 0) expect(day.startMs).toBe(found[index - 1]!.endMs);
            expect([23, 23.5, 24, 24.5, 25]).toContain((day.endMs - day.startMs) / 3_600_000);
          }
        },
      ),
    );
  });

  it('knows zones by their IANA names only', () => {
    expect(isTimeZone('Europe/London')).toBe(true);
    expect(isTimeZone('Nowhere/Atall')).toBe(false);
    expect(isTimeZone('x'.repeat(500))).toBe(false);
    expect(utcOffsetMinutes(Date.UTC(2026, 6, 1), 'Europe/London')).toBe(60);
  });
});

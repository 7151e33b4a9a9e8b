import { describe, expect, it } from 'vitest';
import { createWallClock } from '../../../collector/csv/wall-clock.ts';
import { importText, NOW_MS } from './csv-support.ts';

/*
 * IANA time-zone data: Europe/London is put forward on 2026-03-29 at 01:00 UTC and back on 2026-10-25 at 01:00 UTC, so
 * that its local days have 23 and 25 hours.
 */
const LONDON = { zone: 'Europe/London' };

/** Wall times of a local day as a logger with a zone-aware clock writes them, from an oracle of the runtime's own. */
function wallTimes(fromUtcMs: number, count: number, stepMs: number, timeZone: string): string[] {
  const format = new Intl.DateTimeFormat('sv-SE', { timeZone, dateStyle: 'short', timeStyle: 'medium' });
  return Array.from({ length: count }, (_, i) => format.format(fromUtcMs + i * stepMs));
}

const file = (times: readonly string[]) =>
  `time,value\n${times.map((time, i) => `${time},${1 + (i % 90) / 1000}`).join('\n')}\n`;

describe('local times over the changes of the clock', () => {
  it.each([
    ['the day of 25 hours', Date.UTC(2026, 9, 24, 23), 25],
    ['the day of 23 hours', Date.UTC(2026, 2, 29, 0), 23],
  ])('%s: every sample gets back the instant it was taken', async (_, fromMs, hours) => {
    for (const stepMs of [10_000, 60_000, 900_000, 1_800_000, 3_600_000]) {
      const count = (hours * 3_600_000) / stepMs;
      const { times, report } = await importText(file(wallTimes(fromMs, count, stepMs, 'Europe/London')), LONDON);
      expect(report.refused, `step ${stepMs}`).toEqual([]);
      expect(times).toEqual(Array.from({ length: count }, (_, i) => new Date(fromMs + i * stepMs).toISOString()));
    }
  });

  it('newest first, too', async () => {
    const fromMs = Date.UTC(2026, 9, 24, 23);
    const newestFirst = wallTimes(fromMs, 1500, 60_000, 'Europe/London').reverse();
    const { times } = await importText(file(newestFirst), LONDON);
    expect(times).toEqual(Array.from({ length: 1500 }, (_, i) => new Date(fromMs + (1499 - i) * 60_000).toISOString()));
  });

  it('with times of day and a start date', async () => {
    const fromMs = Date.UTC(2026, 9, 24, 12);
    const ofDay = wallTimes(fromMs, 1500, 60_000, 'Europe/London').map((time) => `${time.slice(11, 16)}:00`);
    const { times } = await importText(file(ofDay), { ...LONDON, date: '2026-10-24' });
    expect(times).toEqual(Array.from({ length: 1500 }, (_, i) => new Date(fromMs + i * 60_000).toISOString()));
  });

  it('half an hour repeated at Lord Howe Island (IANA: back by 30 min on 2026-04-04 at 15:00 UTC)', async () => {
    const fromMs = Date.UTC(2026, 3, 4, 12);
    const { times, report } = await importText(file(wallTimes(fromMs, 360, 60_000, 'Australia/Lord_Howe')), {
      zone: 'Australia/Lord_Howe',
    });
    expect(report.refusedCount).toBe(0);
    expect(times).toEqual(Array.from({ length: 360 }, (_, i) => new Date(fromMs + i * 60_000).toISOString()));
  });

  it('an hour shown once only is refused, since nothing tells which of the two it is', async () => {
    const once = [
      ...wallTimes(Date.UTC(2026, 9, 24, 22), 120, 60_000, 'UTC'),
      ...wallTimes(Date.UTC(2026, 9, 25), 240, 60_000, 'UTC'),
    ];
    const { report, times } = await importText(file(once), LONDON);
    expect(report.refusedCount).toBe(60);
    expect(report.refused[0]).toMatchObject({ line: 182 });
    expect(report.refused[0]?.reason).toContain('"2026-10-25 01:00:00" occurs twice in Europe/London');
    expect(times).toHaveLength(300);
  });

  it('an hour that joins on to the rows on one side only belongs to that side', async () => {
    const before = wallTimes(Date.UTC(2026, 9, 24, 23), 120, 60_000, 'Europe/London');
    const first = await importText(file(before), LONDON);
    expect(first.times.at(-1)).toBe('2026-10-25T00:59:00.000Z');
    const after = wallTimes(Date.UTC(2026, 9, 25, 1), 120, 60_000, 'Europe/London');
    const second = await importText(file(after), LONDON);
    expect(second.times[0]).toBe('2026-10-25T01:00:00.000Z');
  });

  it('rows in disorder within the repeated hour are refused rather than put somewhere', async () => {
    const jumbled = ['01:00', '01:30', '01:10', '01:40', '01:20', '01:50'].map((time) => `2026-10-25 ${time}:00`);
    const { report } = await importText(file(['2026-10-25 00:59:00', ...jumbled, '2026-10-25 02:00:00']), LONDON);
    expect(report.refusedCount).toBe(6);
  });

  it("spring's missing hour is refused by row, with what to do for a clock that keeps winter time", async () => {
    const { report, times } = await importText(
      file(['2026-03-29 00:59:59', '2026-03-29 01:00:00', '2026-03-29 01:59:59', '2026-03-29 02:00:00']),
      LONDON,
    );
    expect(times).toEqual(['2026-03-29T00:59:59.000Z', '2026-03-29T01:00:00.000Z']);
    expect(report.refused.map((row) => row.line)).toEqual([3, 4]);
    expect(report.refused[0]?.reason).toContain("doesn't exist in Europe/London");
    const winter = await importText(file(['2026-03-29 01:30:00']), { zone: 'Etc/GMT-1' });
    expect(winter.times).toEqual(['2026-03-29T00:30:00.000Z']);
  });

  it("agrees with the runtime's own calendar at every hour of a year in zones of all kinds", () => {
    for (const zone of [
      'Europe/London',
      'Europe/Berlin',
      'America/New_York',
      'Australia/Lord_Howe',
      'Asia/Kolkata',
      'Africa/Casablanca',
      'UTC',
    ]) {
      const clock = createWallClock(zone, Date.UTC(2000, 0, 1), NOW_MS);
      const fromMs = Date.UTC(2026, 0, 1);
      wallTimes(fromMs, 8760 * 2, 1_800_000, zone).forEach((wall, i) => {
        const atMs = fromMs + i * 1_800_000;
        const reading = clock.instants(Date.parse(`${wall.replace(' ', 'T')}Z`));
        const found =
          reading.kind === 'one' ? [reading.atMs] : reading.kind === 'two' ? [reading.firstMs, reading.secondMs] : [];
        expect(found, `${zone} ${wall}`).toContain(atMs);
      });
    }
  });
});

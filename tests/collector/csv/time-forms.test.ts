import { describe, expect, it } from 'vitest';
import type { CsvOptions } from '../../../collector/csv/csv-options.ts';
import { parseTimeCell } from '../../../collector/csv/time-cell.ts';
import { importText } from './csv-support.ts';

/** [as written, options, the instant in UTC, source] */
type Form = [string, Partial<CsvOptions>, string, string];

const FORMS: Form[] = [
  ['2026-05-04T06:31:07Z', {}, '2026-05-04T06:31:07.000Z', 'RFC 3339 section 5.6'],
  ['2026-05-04t06:31:07z', {}, '2026-05-04T06:31:07.000Z', 'RFC 3339 section 5.6, note: lower case'],
  ['2026-05-04 06:31:07Z', {}, '2026-05-04T06:31:07.000Z', 'RFC 3339 section 5.6, note: a space for T'],
  ['2026-05-04T06:31:07.123456789Z', {}, '2026-05-04T06:31:07.123Z', 'RFC 3339 section 5.6: any number of digits'],
  ['2006-12-19T16:39:57-08:00', {}, '2006-12-20T00:39:57.000Z', 'RFC 3339 section 5.8, its year moved to 2006'],
  ['2007-01-01T12:00:27.87+00:20', {}, '2007-01-01T11:40:27.870Z', 'RFC 3339 section 5.8, its year moved to 2007'],
  ['2016-12-31T23:59:60Z', {}, '2016-12-31T23:59:59.000Z', 'RFC 3339 section 5.6: a leap second'],
  ['2026-05-04T06:31:07-00:00', {}, '2026-05-04T06:31:07.000Z', 'RFC 3339 section 4.3: UTC is known'],
  ['2026-05-04 08:31:07+0200', {}, '2026-05-04T06:31:07.000Z', 'ISO 8601 basic offset'],
  ['20260504T063107Z', {}, '2026-05-04T06:31:07.000Z', 'ISO 8601 basic format'],
  ['2026-05-04 06:31:07', { zone: 'UTC' }, '2026-05-04T06:31:07.000Z', 'ISO 8601, no offset'],
  ['2026-05-04T06:31', { zone: 'Europe/London' }, '2026-05-04T05:31:00.000Z', 'ISO 8601, summer time in London'],
  [
    '2026-01-04 06:31:07,5',
    { zone: 'Europe/London' },
    '2026-01-04T06:31:07.500Z',
    'ISO 8601: a comma before the fraction',
  ],
  ['2024/10/22 15:41:04.201', { zone: 'Asia/Shanghai' }, '2024-10-22T07:41:04.201Z', 'pipe bench recording'],
  ['1777876267', {}, '2026-05-04T06:31:07.000Z', 'POSIX seconds; date -u -d @1777876267'],
  ['1777876267.25', {}, '2026-05-04T06:31:07.250Z', 'POSIX seconds with a fraction'],
  ['1777876267250', {}, '2026-05-04T06:31:07.250Z', 'POSIX milliseconds, from 10^11 on'],
  ['25/05/2026 06:31', { zone: 'UTC' }, '2026-05-25T06:31:00.000Z', 'day first: no month 25'],
  ['05/25/2026 06:31:07 PM', { zone: 'UTC' }, '2026-05-25T18:31:07.000Z', 'month first: no month 25; 12-hour clock'],
  ['25.5.2026, 06:31:07', { zone: 'Europe/Berlin' }, '2026-05-25T04:31:07.000Z', 'day first with points'],
  ['04/05/2026 06:31', { zone: 'UTC', dateOrder: 'day-first' }, '2026-05-04T06:31:00.000Z', 'day first as answered'],
  [
    '04/05/2026 06:31',
    { zone: 'UTC', dateOrder: 'month-first' },
    '2026-04-05T06:31:00.000Z',
    'month first as answered',
  ],
  ['04/05/2026 06:31:07 +01:00', { dateOrder: 'day-first' }, '2026-05-04T05:31:07.000Z', 'day first with an offset'],
  [
    '31.12.25 23:00',
    { zone: 'UTC', dateOrder: 'day-first' },
    '2025-12-31T23:00:00.000Z',
    'year of two digits as answered',
  ],
  ['4-May-2026 06:31:07', { zone: 'UTC' }, '2026-05-04T06:31:07.000Z', 'month by name'],
  ['May 4, 2026 12:05 AM', { zone: 'UTC' }, '2026-05-04T00:05:00.000Z', '12 AM is the hour after midnight'],
  [
    '06:31:07',
    { date: '2026-05-04', zone: 'Europe/London' },
    '2026-05-04T05:31:07.000Z',
    'time of day with a start date',
  ],
  ['14:11.6', { date: '2024-10-22T15' }, '2024-10-22T15:14:11.600Z', 'minutes and seconds with a start hour'],
  ['14:11.6', { date: '2024-10-22' }, '2024-10-22T00:14:11.600Z', 'minutes and seconds with a start date'],
];

describe('forms of time', () => {
  it.each(FORMS)('%s with %o is %s (%s)', async (written, options, expected) => {
    const { times, report } = await importText(`time;value\n${written};1.482\n`, options);
    expect(report.refused).toEqual([]);
    expect(times).toEqual([expected]);
  });

  it.each([
    '2026-02-30 06:00:00',
    '2026-13-01T00:00:00Z',
    '2026-05-04T24:30:00Z',
    '2026-05-04T06:61:00Z',
    '2026-05-04T06:31:07+25:00',
    '31/31/2026',
    '13:00 PM',
    '75:20',
    'yesterday',
    '',
  ])('%s is no time', (text) => {
    expect(parseTimeCell(text)).toBeUndefined();
  });

  it('reads RFC 3339 section 5.8 as Date does, which implements the same grammar', () => {
    for (const text of ['1985-04-12T23:20:50.52Z', '1996-12-19T16:39:57-08:00', '1937-01-01T12:00:27.87+00:20']) {
      expect(parseTimeCell(text)).toEqual({ kind: 'instant', atMs: Date.parse(text) });
    }
  });
});

describe('times of day', () => {
  it('roll over midnight, and a row that is a little late does not', async () => {
    const rows = ['23:59:58', '23:59:59', '00:00:01', '23:59:57', '00:00:02', '12:00:00', '11:59:59', '06:00:00'];
    const { times } = await importText(`time,value\n${rows.map((time) => `${time},1.5`).join('\n')}\n`, {
      date: '2026-05-04',
      zone: 'UTC',
    });
    expect(times).toEqual([
      '2026-05-04T23:59:58.000Z',
      '2026-05-04T23:59:59.000Z',
      '2026-05-05T00:00:01.000Z',
      '2026-05-04T23:59:57.000Z',
      '2026-05-05T00:00:02.000Z',
      '2026-05-05T12:00:00.000Z',
      '2026-05-05T11:59:59.000Z',
      '2026-05-06T06:00:00.000Z',
    ]);
  });

  it('in minutes and seconds roll over the hour', async () => {
    const { times } = await importText('time,value\n59:59.8,1\n59:59.9,1\n00:00.0,1\n00:00.1,1\n', {
      date: '2026-05-04T09',
    });
    expect(times.map((time) => time.slice(11))).toEqual([
      '09:59:59.800Z',
      '09:59:59.900Z',
      '10:00:00.000Z',
      '10:00:00.100Z',
    ]);
  });

  it('may stand in a column of their own beside the date', async () => {
    const file = 'Date;Time;Druck [mbar]\n25.05.2026;06:31:07;1482\n25.05.2026;06:31:08;1483\n';
    const { times, report, pieces } = await importText(file, { zone: 'Europe/Berlin', value: 'Druck [mbar]' });
    expect(times).toEqual(['2026-05-25T04:31:07.000Z', '2026-05-25T04:31:08.000Z']);
    expect(pieces[0]?.unit).toBe('mbar');
    expect(report.understood.timeColumns).toEqual(['Date', 'Time']);
  });
});

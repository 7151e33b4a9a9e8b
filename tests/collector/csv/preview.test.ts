import { gzipSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { previewCsv } from '../../../collector/csv/preview-csv.ts';
import { NOW_MS, problemOf } from './csv-support.ts';

const OPTIONS = { loggerId: 'front-hall', channel: 'pressure' } as const;

describe('the preview of an import', () => {
  it('shows how the first rows would be read, refusals among them', async () => {
    const file = Buffer.from('Zeit;Druck\n25.05.2026 06:31:07;1,482\n25.05.2026 06:31:08;NA\n');
    const preview = await previewCsv(file, { ...OPTIONS, zone: 'Europe/Berlin' }, NOW_MS);
    expect(preview).toEqual({
      columns: ['Zeit', 'Druck'],
      understood: {
        delimiter: ';',
        decimal: ',',
        timeColumns: ['Zeit'],
        valueColumn: 'Druck',
        unit: 'bar',
        zone: 'Europe/Berlin',
        headerLine: 1,
      },
      timeAsWritten: '25.05.2026 06:31:07',
      rows: [
        { line: 2, text: '25.05.2026 06:31:07;1,482', time: '2026-05-25T04:31:07Z', value: 1.482, unit: 'bar' },
        { line: 3, text: '25.05.2026 06:31:08;NA', refused: 'the value is "NA": no reading' },
      ],
      questions: [],
      whole: true,
    });
  });

  it('answers with the questions instead of throwing them', async () => {
    const dates = await previewCsv(Buffer.from('time,value\n04/05/2026 06:31,1.5\n'), OPTIONS, NOW_MS);
    expect(dates.questions.map((question) => question.option)).toEqual(['dateOrder', 'zone']);
    const columns = await previewCsv(Buffer.from('time,a,b\n2026-05-04T06:31:07Z,1,2\n'), OPTIONS, NOW_MS);
    expect(columns).toMatchObject({ columns: ['time', 'a', 'b'], understood: undefined, rows: [] });
    expect(columns.questions[0]?.answers.map((answer) => answer.value)).toEqual(['a', 'b']);
  });

  it('reads the beginning of a large file, plain or gzip, cut anywhere', async () => {
    const rows = Array.from({ length: 400_000 }, (_, i) => `${1_700_000_000 + i},${(1 + Math.sin(i * i)).toFixed(5)}`);
    const text = Buffer.from(`time,value\n${rows.join('\n')}\n`);
    for (const bytes of [text, gzipSync(text)]) {
      expect(bytes.length).toBeGreaterThan(262_144);
      const preview = await previewCsv(bytes.subarray(0, 262_144), OPTIONS, NOW_MS);
      expect(preview.whole).toBe(false);
      expect(preview.rows).toHaveLength(20);
      expect(preview.rows[19]).toMatchObject({ line: 21, time: '2023-11-14T22:13:39Z' });
    }
  });

  it('unpacks no more than it shows: 200 MB of blank lines packed small stay unread', async () => {
    const bomb = gzipSync(
      Buffer.concat([Buffer.from('time,value\n1700000000,1.5\n'), Buffer.alloc(200_000_000, '\n')]),
    );
    expect(bomb.length).toBeLessThan(262_144);
    const before = process.memoryUsage().rss;
    const preview = await previewCsv(bomb, OPTIONS, NOW_MS);
    expect(preview.rows).toHaveLength(1);
    expect(process.memoryUsage().rss - before).toBeLessThan(100_000_000);
  });

  it('says what is wrong with a file that is no CSV', async () => {
    expect((await problemOf(previewCsv(Buffer.from('PK\u0003\u0004'), OPTIONS, NOW_MS))).code).toBe('unreadable_csv');
  });
});

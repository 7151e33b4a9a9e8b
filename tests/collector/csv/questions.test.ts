import { describe, expect, it } from 'vitest';
import { importText, problemOf, questionsOf } from './csv-support.ts';

const rows = (times: readonly string[], value = '1.5', delimiter = ',') =>
  `time${delimiter}value\n${times.map((time) => `${time}${delimiter}${value}`).join('\n')}\n`;

describe('a file that can be read in two ways is asked about', () => {
  it('dates of which every row fits both orders', async () => {
    const questions = await questionsOf(importText(rows(['04/05/2026 06:31', '05/05/2026 06:31']), { zone: 'UTC' }));
    expect(questions).toHaveLength(1);
    expect(questions[0]).toMatchObject({
      option: 'dateOrder',
      answers: [
        { value: 'day-first', meaning: '4 May 2026' },
        { value: 'month-first', meaning: '5 April 2026' },
      ],
    });
    expect(questions[0]?.question).toContain('line 2');
  });

  it('and one row anywhere settles it, however late in the file', async () => {
    const early = Array.from(
      { length: 30_000 },
      (_, i) => `04/05/2026 06:${String(Math.floor(i / 60) % 60).padStart(2, '0')}:${String(i % 60).padStart(2, '0')}`,
    );
    const { times, report } = await importText(rows([...early, '13/05/2026 00:00:00']), { zone: 'UTC' });
    expect(times[0]).toBe('2026-05-04T06:00:00.000Z');
    expect(times.at(-1)).toBe('2026-05-13T00:00:00.000Z');
    expect(report.refusedCount).toBe(0);
  });

  it('a single row that contradicts all others is refused by its line', async () => {
    const days = Array.from(
      { length: 200 },
      (_, i) => `${String((i % 27) + 1).padStart(2, '0')}/05/2026 06:31:${String(i % 60).padStart(2, '0')}`,
    );
    days[150] = '05/28/2026 06:31:00';
    const { report } = await importText(rows(days), { zone: 'UTC' });
    expect(report.refused).toEqual([
      { line: 152, reason: 'the time "05/28/2026 06:31:00" isn\'t day-first as the file is read' },
    ]);
  });

  it('rows that contradict each other in number are asked about, not outvoted', async () => {
    const questions = await questionsOf(
      importText(rows(['13/05/2026 06:31', '14/05/2026 06:31', '05/28/2026 06:31']), { zone: 'UTC' }),
    );
    expect(questions.map((question) => question.option)).toEqual(['dateOrder']);
  });

  it('the answer decides, and what it rules out is refused', async () => {
    const { times, report } = await importText(rows(['04/05/2026 06:31', '05/28/2026 06:31']), {
      zone: 'UTC',
      dateOrder: 'day-first',
    });
    expect(times).toEqual(['2026-05-04T06:31:00.000Z']);
    expect(report.refused.map((row) => row.line)).toEqual([3]);
  });

  it.each([
    ['times without an offset: the zone', ['2026-05-04 06:31:07'], ['zone']],
    ['times of day: the date', ['06:31:07', '06:31:08'], ['date']],
    ['times of two numbers: what they are, and the date', ['06:31', '06:32'], ['clockForm', 'date']],
    ['open dates without an offset: order and zone together', ['04/05/2026 06:31'], ['dateOrder', 'zone']],
  ])('%s', async (_, times, options) => {
    const questions = await questionsOf(importText(rows(times)));
    expect(questions.map((question) => question.option)).toEqual(options);
  });

  it('minutes past 23 show minutes and seconds', async () => {
    const questions = await questionsOf(importText(rows(['06:31', '59:32'])));
    expect(questions.map((question) => question.option)).toEqual(['date']);
  });

  it('a comma that may part thousands, where commas part the columns too', async () => {
    const file = 'time,value\n2026-05-04T06:31:07Z,"1,482"\n2026-05-04T06:31:08Z,"1,483"\n';
    expect((await questionsOf(importText(file))).map((question) => question.option)).toEqual(['decimal']);
    expect((await importText(file, { decimal: ',' })).values).toEqual([1.482, 1.483]);
    expect((await importText(file.replace('1,483', '0,483'))).values).toEqual([1.482, 0.483]);
  });

  it('which of several columns holds the value, with an example of each', async () => {
    const file = 'time,inlet,outlet\n2026-05-04T06:31:07Z,0.8,2.9\n';
    const questions = await questionsOf(importText(file));
    expect(questions[0]).toMatchObject({
      option: 'value',
      answers: [
        { value: 'inlet', meaning: 'column 2, as in "0.8"' },
        { value: 'outlet', meaning: 'column 3, as in "2.9"' },
      ],
    });
  });

  it('a decimal comma between unquoted commas is never read as a whole number', async () => {
    const headed = await importText('time,value\n2026-05-04T06:31:07Z,1,48\n2026-05-04T06:31:08Z,1,49\n');
    expect(headed.report).toMatchObject({ stored: 0, refusedCount: 2 });
    expect(headed.report.refused[0]?.reason).toContain('3 fields where the header has 2');
    const bare = await questionsOf(importText('2026-05-04T06:31:07Z,1,48\n2026-05-04T06:31:08Z,1,49\n'));
    expect(bare.map((question) => question.option)).toEqual(['value']);
  });

  it('says how to answer, and stores nothing before', async () => {
    const problem = await problemOf(importText(rows(['2026-05-04 06:31:07'])));
    expect(problem.hint).toBe('Send it again with zone=Europe/London. Nothing was stored.');
  });
});

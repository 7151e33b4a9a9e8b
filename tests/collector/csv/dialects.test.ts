import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { toNineSignificantDigits } from '../../../collector/model/units.ts';
import { importText, problemOf } from './csv-support.ts';

describe('RFC 4180 section 2, by its own examples with a time and a value in place of aaa and bbb', () => {
  const [first, second] = ['2026-05-04T06:31:07Z', '2026-05-04T06:31:08Z'];

  it.each([
    ['2.1: records end with CRLF', `time,value,c\r\n${first},1.5,ccc\r\n${second},1.6,yyy\r\n`],
    ['2.2: the last record may have no line break', `time,value,c\r\n${first},1.5,ccc\r\n${second},1.6,yyy`],
    ['2.4: spaces are part of a field', `time,value,c\r\n${first}, 1.5 ,ccc\r\n${second} ,1.6,yyy`],
    ['2.5: fields may be quoted', `"time","value","c"\r\n"${first}","1.5","ccc"\r\n${second},1.6,yyy`],
    ['2.6: line breaks and commas in quotes', `time,value,c\r\n${first},1.5,"c\r\nc,c"\r\n${second},1.6,yyy`],
    ['2.7: a quote in quotes is doubled', `time,value,c\r\n${first},1.5,"c""cc"\r\n${second},1.6,yyy`],
    ['line feeds only', `time,value,c\n${first},1.5,ccc\n${second},1.6,yyy\n`],
    ['carriage returns only', `time,value,c\r${first},1.5,ccc\r${second},1.6,yyy\r`],
    ['line ends mixed', `time,value,c\r\n${first},1.5,ccc\n${second},1.6,yyy\r\n`],
    ['2.3: no header', `${first},1.5,ccc\r\n${second},1.6,yyy\r\n`],
  ])('%s', async (_, file) => {
    const { times, values, report } = await importText(file);
    expect(report.refused).toEqual([]);
    expect(times).toEqual(['2026-05-04T06:31:07.000Z', '2026-05-04T06:31:08.000Z']);
    expect(values).toEqual([1.5, 1.6]);
  });

  it('rows are told by the line they start on, line breaks in quotes counted', async () => {
    const { report } = await importText(`time,value,c\r\n${first},1.5,"a\r\nb\r\nc"\r\n${second},bad,x\r\n`);
    expect(report.refused).toEqual([{ line: 5, reason: 'the value "bad" is no number' }]);
  });
});

describe('what a file may look like', () => {
  const file = 'time;value\n2026-05-04T06:31:07Z;1,482\n2026-05-04T06:31:08Z;-0,012\n';
  const expected = [1.482, -0.012];

  it.each([
    ['gzip', gzipSync(file)],
    ['two gzip members, one after the other', Buffer.concat([gzipSync(file.slice(0, 30)), gzipSync(file.slice(30))])],
    ['a byte order mark', Buffer.from(`\uFEFF${file}`)],
    ['UTF-16 with a byte order mark', Buffer.from(`\uFEFF${file}`, 'utf16le')],
    ['Latin-1 in a further column', Buffer.from(file.replace(/\n/g, ';Stra\u00dfe\n'), 'latin1')],
    ['a preamble before the header', Buffer.from(`Logger export\nSerial;4711\n\n${file}`)],
    ['blank lines and rows of delimiters only', Buffer.from(file.replace(/\n/g, '\n\n;\n'))],
  ])('%s', async (_, bytes) => {
    const { values, report } = await importText(bytes);
    expect(values).toEqual(expected);
    expect(report).toMatchObject({ rows: 2, refusedCount: 0 });
  });

  it('rows that hold nothing usable are refused with line and reason, the first 100 told, all counted', async () => {
    const bad = ['', 'NA', 'nan', '-', 'n/a', '1.4.8', '0x10', 'Infinity', '1e999', '1 482'];
    const rows = bad.map((value) => `2026-05-04T06:31:07Z,${value}`);
    const tail = Array.from({ length: 200 }, () => 'not a time,1.5');
    const { report } = await importText(
      `time,value\n2026-05-04T06:31:06Z,1.5\n${rows.join('\n')}\n${tail.join('\n')}\n1999-12-31T23:59:59Z,1\n2030-01-01T00:00:00Z,1\n2026-05-04T06:31:09Z\n`,
    );
    expect(report).toMatchObject({ rows: 214, stored: 1, refusedCount: 213 });
    expect(report.refused).toHaveLength(100);
    expect(report.refused.slice(0, 11).map(({ line, reason }) => `${line} ${reason}`)).toEqual([
      '3 the row has no value',
      '4 the value is "NA": no reading',
      '5 the value is "nan": no reading',
      '6 the value is "-": no reading',
      '7 the value is "n/a": no reading',
      '8 the value "1.4.8" is no number',
      '9 the value "0x10" is no number',
      '10 the value "Infinity" is no number',
      '11 the value "1e999" isn\'t a number with a decimal point as the file is read',
      '12 the value "1 482" is no number',
      '13 the time "not a time" can\'t be read',
    ]);
  });

  it('times before 2000 or more than a day ahead are refused', async () => {
    const { report } = await importText(
      'time,value\n1999-12-31T23:59:59Z,1\n2000-01-01T00:00:00Z,1\n2027-01-02T00:00:00Z,1\n',
    );
    expect(report).toMatchObject({ stored: 1, refusedCount: 2 });
    expect(report.refused[0]).toEqual({
      line: 2,
      reason: "the time 1999-12-31T23:59:59Z isn't between 2000-01-01 and a day from now",
    });
  });

  it('what a file says is repeated short and without control characters', async () => {
    const { report } = await importText(
      `time,value\n2026-05-04T06:31:07Z,1.5\n2026-05-04T06:31:08Z,\u001b[31m${'x'.repeat(500)}\n`,
    );
    expect(report.refused[0]?.reason).toContain('\\u001b[31mxxx');
    expect(report.refused[0]!.reason.length).toBeLessThan(100);
  });

  it('units come from the option, else the column, else the logger, else the channel', async () => {
    const unitOf = async (name: string, options = {}) =>
      (await importText(`time,${name}\n2026-05-04T06:31:07Z,1\n`, options)).pieces[0]?.unit;
    expect(await unitOf('pressure_bar', { defaultUnit: 'V' })).toBe('bar');
    expect(await unitOf('pressure_kPa')).toBe('kPa');
    expect(await unitOf('value', { defaultUnit: 'V' })).toBe('V');
    expect(await unitOf('value')).toBe('bar');
    expect(await unitOf('value', { unit: 'psi', defaultUnit: 'V' })).toBe('psi');
    expect(await unitOf('flow_lpm', { channel: 'flow' })).toBe('l/min');
    expect(await unitOf('pump_on', { channel: 'pump' })).toBe('on/off');
    expect((await problemOf(importText('time,flow_lpm\n2026-05-04T06:31:07Z,8.2\n'))).code).toBe('needs_answer');
  });

  it("the program's own export comes back as the pressure it shows, whatever the logger sends", async () => {
    const file = 'time,value,value_as_sent,unit_as_sent\n2026-05-04T06:31:07.000Z,1.482,148.2,kPa\n';
    const { pieces, values } = await importText(file, { defaultUnit: 'kPa' });
    expect([pieces[0]?.unit, values]).toEqual(['bar', [1.482]]);
  });

  it("a pump's words are read", async () => {
    const rows = ['on', 'off', 'TRUE', 'false', '1', '0', '2'].map((word, i) => `2026-05-04T06:31:0${i}Z,${word}`);
    const { values, report } = await importText(`time,value\n${rows.join('\n')}\n`, { channel: 'pump' });
    expect(values).toEqual([1, 0, 1, 0, 1, 0]);
    expect(report.refused).toEqual([{ line: 8, reason: 'the value "2" is neither 0 nor 1' }]);
  });
});

describe('pieces for the store', () => {
  it('hold at most 3,600 samples, all of one hour in UTC, in the order of the file', async () => {
    const startMs = Date.UTC(2026, 4, 4, 6, 30);
    const rows = Array.from({ length: 9000 }, (_, i) => `${new Date(startMs + i * 500).toISOString()},1.5`);
    const { pieces } = await importText(`time,value\n${rows.join('\n')}\n`);
    expect(pieces.map((piece) => piece.timeMs.length)).toEqual([3600, 3600, 1800]);
    for (const piece of pieces)
      expect(new Set([...piece.timeMs].map((atMs) => Math.floor(atMs / 3_600_000))).size).toBe(1);
  });
});

describe('ragged files', () => {
  it('cost about what even ones do: rows of other lengths than the first are no errors to be built and dropped', async () => {
    const seconds = async (file: string) => {
      const start = performance.now();
      await importText(file);
      return performance.now() - start;
    };
    const rows = Array.from({ length: 20_000 }, (_, i) => `${1_777_876_267 + i},1.5`);
    const even = `time,value\n${rows.join(',\n')},\n`;
    const ragged = `time,value,note\n${rows.join('\n\n')}\n`;
    await seconds(even);
    const ratios = [];
    for (let run = 0; run < 5; run++) ratios.push((await seconds(ragged)) / (await seconds(even)));
    expect(ratios.sort((a, b) => a - b)[2]).toBeLessThan(5);
  });
});

describe('files that are no CSV', () => {
  it.each([
    ['nothing', Buffer.alloc(0), 'unreadable_csv', 'is empty'],
    ['prose', Buffer.from('Dear Sir,\nour pressure is low.\n'), 'unreadable_csv', 'No row'],
    ['a spreadsheet', Buffer.from('PK\u0003\u0004 and so on'), 'unreadable_csv', 'a zip archive or a spreadsheet'],
    [
      'a cut gzip file',
      gzipSync('time,value\n2026-05-04T06:31:07Z,1.5\n').subarray(0, 40),
      'unreadable_csv',
      'cut off',
    ],
    [
      'an open quote',
      Buffer.from('time,value\n2026-05-04T06:31:07Z,"1.5"\n2026-05-04T06:31:08Z,"1.5\n'),
      'unreadable_csv',
      'quote',
    ],
    [
      'one endless line',
      Buffer.from(`time,value\n2026-05-04T06:31:07Z,1.5\n${'x'.repeat(400_000)}`),
      'unreadable_csv',
      'longer than',
    ],
    ['a header alone', Buffer.from('time,value\n'), 'unreadable_csv', 'no rows'],
  ])('%s', async (_, bytes, code, words) => {
    const problem = await problemOf(importText(bytes));
    expect(problem.code).toBe(code);
    expect(problem.message).toContain(words);
  });

  it('a stray quote far into a file without quotes spoils its row only', async () => {
    const rows = Array.from({ length: 20_000 }, (_, i) => `${1_777_876_267 + i},1.5`);
    rows[15_000] = `${1_777_876_267 + 15_000},"1.5`;
    const { report } = await importText(`time,value\n${rows.join('\n')}\n`);
    expect(report).toMatchObject({ rows: 20_000, stored: 19_999 });
    expect(report.refused).toEqual([{ line: 15_002, reason: 'the value ""1.5" is no number' }]);
  });

  it('wrong options are told together', async () => {
    const problem = await problemOf(
      importText('time,value\n', { unit: 'furlong', zone: 'Middle/Earth', date: 'today' }),
    );
    expect(problem.code).toBe('option_wrong');
    for (const word of ['unit is "furlong"', 'zone is "Middle/Earth"', 'date is "today"'])
      expect(problem.message).toContain(word);
  });

  it('a column that is not there is named together with those that are', async () => {
    const problem = await problemOf(importText('time,value\n2026-05-04T06:31:07Z,1.5\n', { value: 'Druck' }));
    expect(problem.code).toBe('unknown_column');
    expect(problem.message).toContain('"time", "value"');
  });
});

describe('any samples in any dialect come back as they were', () => {
  const dialect = fc.record({
    delimiter: fc.constantFrom(',', ';', '\t', '|', ' '),
    decimal: fc.constantFrom('.', ','),
    lineEnd: fc.constantFrom('\n', '\r\n'),
    header: fc.boolean(),
    quoteAll: fc.boolean(),
    gzip: fc.boolean(),
    bom: fc.boolean(),
    seconds: fc.boolean(),
    swapped: fc.boolean(),
  });
  const samples = fc.array(
    fc.tuple(
      fc.integer({ min: Date.UTC(2000, 0, 1), max: Date.UTC(2026, 11, 30) }),
      fc.double({ min: -1000, max: 1000, noNaN: true }).map((value) => toNineSignificantDigits(value) + 0),
    ),
    { minLength: 1, maxLength: 60 },
  );

  it('whatever delimiter, decimal mark, quotes, line ends, order of columns and packing', async () => {
    await fc.assert(
      fc.asyncProperty(dialect, samples, async (form, given) => {
        const quote = (text: string) =>
          form.quoteAll || (form.delimiter === ',' && form.decimal === ',') ? `"${text}"` : text;
        const join = (time: string, value: string) =>
          (form.swapped ? [value, time] : [time, value]).map(quote).join(form.delimiter);
        const lines = given.map(([atMs, value]) => {
          const time = form.seconds ? (atMs / 1000).toFixed(3) : new Date(atMs).toISOString();
          return join(time.replace('.', form.seconds ? form.decimal : '.'), String(value).replace('.', form.decimal));
        });
        if (form.header) lines.unshift(join('time', 'value'));
        const text = `${form.bom ? '\uFEFF' : ''}${lines.join(form.lineEnd)}${form.lineEnd}`;
        const bytes = form.gzip ? gzipSync(text) : Buffer.from(text);
        const columns = { time: form.swapped ? '2' : '1', value: form.swapped ? '1' : '2' };
        const { times, values } = await importText(bytes, { decimal: form.decimal as '.' | ',', ...columns });
        expect(times).toEqual(given.map(([atMs]) => new Date(atMs).toISOString()));
        expect(values).toEqual(given.map(([, value]) => value));
      }),
      { numRuns: 150 },
    );
  });
});

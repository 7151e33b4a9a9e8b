import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readAnalysisFile } from '../../../api/command-line/analysis-file.ts';
import { createGrowingColumn } from '../../../api/command-line/growing-column.ts';
import { scanNumber } from '../../../api/command-line/number-scan.ts';
import { createTimeScan } from '../../../api/command-line/time-scan.ts';
import { parseRfc3339 } from '../../../collector/model/instant.ts';
import { problemOf } from '../../collector/csv/csv-support.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'mainsdiary-test-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function read(content: string | Buffer) {
  const path = join(folder, 'log.csv');
  writeFileSync(path, content);
  return readAnalysisFile(path);
}

describe('FILE.csv', () => {
  it('keeps rows in their order of arrival, late, repeated and wrongly stamped ones too', async () => {
    const columns = await read(
      'time,pressure_bar\n2026-05-04T00:00:02Z,2.413\n2026-05-04T00:00:01.250Z,2.4\n2026-05-04T00:00:02Z,2.413\n1970-01-01T00:00:09Z,2.41\n',
    );
    expect([...columns.timeMs]).toEqual([1777852802000, 1777852801250, 1777852802000, 9000]);
    expect([...columns.pressureBar]).toEqual([2.413, 2.4, 2.413, 2.41]);
    expect(columns.flowLpm).toBeUndefined();
  });

  it('reads all columns in any order, ignores others, and takes no reading for NaN', async () => {
    const columns = await read(
      '"pump_on",time,note,pressure_bar,inlet_bar,flow_lpm\r\n1,2026-05-04T00:00:00Z,x,3.1,0.8,8.2\r\noff,2026-05-04T00:00:01Z,,NaN,,0\r\n\r\n,2026-05-04T00:00:02Z,"y", -0.012 ,0.85,\r\n',
    );
    expect([...columns.pumpOn!]).toEqual([1, 0, Number.NaN]);
    expect([...columns.pressureBar]).toEqual([3.1, Number.NaN, -0.012]);
    expect([...columns.inletBar!]).toEqual([0.8, Number.NaN, 0.85]);
    expect([...columns.flowLpm!]).toEqual([8.2, 0, Number.NaN]);
  });

  it.each([
    ['gzip', (text: string) => gzipSync(text)],
    ['a byte order mark', (text: string) => Buffer.from(`\uFEFF${text}`)],
    ['no line break at the end', (text: string) => Buffer.from(text.trimEnd())],
  ])('is read with %s', async (_, pack) => {
    const columns = await read(pack('time,pressure_bar\n2026-05-04T00:00:00Z,2.4\n2026-05-04T00:00:01Z,2.5\n'));
    expect([...columns.pressureBar]).toEqual([2.4, 2.5]);
  });

  it('comes from standard input in pieces of any size', async () => {
    const rows = Array.from(
      { length: 500 },
      (_, i) => `${new Date(1777852800000 + i * 1000).toISOString()},${i / 1000}`,
    );
    const bytes = Buffer.from(`time,pressure_bar\n${rows.join('\n')}\n`);
    for (const size of [1, 7, 64, 1000]) {
      const pieces = Array.from({ length: Math.ceil(bytes.length / size) }, (_, i) =>
        bytes.subarray(i * size, (i + 1) * size),
      );
      const columns = await readAnalysisFile('-', { standardInput: Readable.from(pieces) });
      expect([...columns.pressureBar]).toEqual(rows.map((_, i) => i / 1000));
    }
  });

  it('with a header alone has no rows', async () => {
    expect((await read('time,pressure_bar\n')).timeMs).toHaveLength(0);
  });

  it.each([
    ['', 'the file is empty', 'time,pressure_bar'],
    ['Zeit;Druck\n1;2\n', 'line 1 is ""Zeit;Druck""'.replaceAll('""', '"'), 'mainsdiary import'],
    ['time,pressure_bar\n2026-05-04 00:00:00,2.4\n', 'Line 2, column time: "2026-05-04 00:00:00"', 'RFC 3339'],
    [
      'time,pressure_bar\n2026-05-04T00:00:00Z,2.4\n2026-02-30T00:00:00Z,2.4\n',
      'Line 3, column time: "2026-02-30T00:00:00Z"',
      'RFC 3339',
    ],
    ['time,pressure_bar\n2026-05-04T00:00:00Z,2;4\n', 'Line 2, column pressure_bar: "2;4"', '2.413'],
    ['time,pressure_bar\n2026-05-04T00:00:00Z\n', 'Line 2, column pressure_bar: missing', '2.413'],
    ['time,pressure_bar,pump_on\n2026-05-04T00:00:00Z,2.4,7\n', 'Line 2, column pump_on: "7"', '0 or 1'],
    ['time,pressure_bar,time\n', 'the column time is there twice', 'Keep one'],
    [`time,pressure_bar\n${'x'.repeat(200_000)}`, 'longer than 65536 bytes', 'one reading a line'],
  ])('that is wrong is told by line, column and value: %j', async (content, words, hint) => {
    const problem = await problemOf(read(content));
    expect(problem.code).toBe('unreadable_analysis_file');
    expect(problem.message).toContain(words);
    expect(problem.hint).toContain(hint);
  });

  it('that is missing or cut off is told', async () => {
    expect((await problemOf(readAnalysisFile(join(folder, 'missing.csv')))).message).toContain('ENOENT');
    const cut = gzipSync('time,pressure_bar\n2026-05-04T00:00:00Z,2.4\n').subarray(0, 30);
    expect((await problemOf(read(cut))).message).toContain('cut off');
  });
});

describe('the scanners agree with slower readers', () => {
  const bytesOf = (text: string) => Buffer.from(`,${text},`);
  const number = (text: string) => scanNumber(bytesOf(text), 1, 1 + Buffer.byteLength(text));

  it('numbers with Number, for any double as JavaScript writes it and for any decimals (IEEE 754)', () => {
    fc.assert(
      fc.property(
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        fc.integer({ min: 0, max: 20 }),
        (value, decimals) => {
          expect(number(String(value))).toBe(Number(String(value)));
          const fixed = value.toFixed(decimals);
          if (/^-?[\d.]+$/.test(fixed) && fixed.length < 60) expect(number(fixed)).toBe(Number(fixed));
        },
      ),
      { numRuns: 2000 },
    );
  });

  it.each(['', '.', '-', '+', '1.2.3', '1,2', '0x10', 'Infinity', '1e', '--1', '1 2', '1e400'])(
    '%j is no number',
    (text) => {
      expect(number(text)).toBeUndefined();
    },
  );

  it('times with parseRfc3339, right or wrong', () => {
    const digit = fc.integer({ min: 0, max: 99 }).map((value) => String(value).padStart(2, '0'));
    const text = fc
      .tuple(
        fc.integer({ min: 1900, max: 2100 }),
        digit,
        digit,
        digit,
        digit,
        digit,
        fc.constantFrom('', '.5', '.25', '.123', '.123456', '.'),
        fc.constantFrom('Z', 'z', '+01:00', '-08:00', ''),
      )
      .map(
        ([year, month, day, hour, minute, second, fraction, offset]) =>
          `${year}-${month}-${day}T${hour}:${minute}:${second}${fraction}${offset}`,
      );
    const near = fc
      .date({ min: new Date('1990-01-01'), max: new Date('2100-01-01'), noInvalidDate: true })
      .map((date) => date.toISOString());
    const scan = createTimeScan();
    fc.assert(
      fc.property(fc.oneof(text, near), (written) => {
        expect(scan(bytesOf(written), 1, 1 + written.length)).toBe(parseRfc3339(written));
      }),
      { numRuns: 5000 },
    );
  });

  it('a growing column gives back what was pushed, over the ends of its chunks', () => {
    const column = createGrowingColumn();
    const length = (1 << 20) * 2 + 3;
    for (let i = 0; i < length; i++) column.push(i);
    expect(column.length()).toBe(length);
    const taken = column.take();
    expect(taken).toHaveLength(length);
    expect(taken.every((value, i) => value === i)).toBe(true);
  });
});

import { createReadStream } from 'node:fs';
import type { Readable } from 'node:stream';
import { plainBytes } from '../../collector/csv/csv-source.ts';
import { excerpt } from '../../collector/csv/excerpt.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { AnalysisColumns } from '../analysis/findings.ts';
import { createGrowingColumn, type GrowingColumn } from './growing-column.ts';
import { scanNumber } from './number-scan.ts';
import { createTimeScan } from './time-scan.ts';

/** Columns of FILE.csv. Others are ignored; `time` and `pressure_bar` must be there. */
export const ANALYSIS_COLUMNS = ['time', 'pressure_bar', 'flow_lpm', 'pump_on', 'inlet_bar'] as const;
type ColumnName = (typeof ANALYSIS_COLUMNS)[number];

/** Three years at 1 Hz: some 1.6 GB with two columns, the most that a machine of the usual size can analyse. */
const MAX_ROWS = 100_000_000;
const MAX_LINE_BYTES = 65_536;
const PROGRESS_ROWS = 2_000_000;

const EXAMPLE: Record<ColumnName, string> = {
  time: '2026-05-04T06:31:07Z or 2026-05-04T06:31:07.250Z (RFC 3339)',
  pressure_bar: '2.413, or nothing where there is no reading',
  flow_lpm: '8.2, or nothing where there is no reading',
  pump_on: "0 or 1, or nothing where it isn't known",
  inlet_bar: '0.85, or nothing where there is no reading',
};

const NEWLINE = 0x0a;
const RETURN = 0x0d;
const COMMA = 0x2c;
const QUOTE = 0x22;
const SPACE = 0x20;
const TAB = 0x09;

/**
 * Reads FILE.csv (`-`: `standardInput`; plain or gzip) into columns in the order of its rows. A cell without a reading
 * becomes NaN in its column. Throws `unreadable_file` where the file can't be opened and `unreadable_analysis_file` with
 * line, column and value where a cell can't be read: findings over a half-read file would look whole. A week at
 * 1 Hz takes a tenth of a second or two, and memory peaks at the data and half of it.
 */
export async function readAnalysisFile(
  path: string,
  options: { standardInput?: Readable; onProgress?: (rows: number) => void } = {},
): Promise<AnalysisColumns> {
  const input =
    path === '-' ? (options.standardInput ?? process.stdin) : createReadStream(path, { highWaterMark: 1 << 18 });
  const rows = createRowScan(options.onProgress ?? (() => undefined));
  let rest = Buffer.alloc(0);
  try {
    for await (const chunk of plainBytes({ open: () => input })) {
      const bytes = rest.length === 0 ? chunk : Buffer.concat([rest, chunk]);
      const end = bytes.lastIndexOf(NEWLINE) + 1;
      rows.scan(bytes, end);
      // Copied, so that a chunk isn't kept alive for its last few bytes.
      rest = Buffer.from(bytes.subarray(end));
      if (rest.length > MAX_LINE_BYTES) throw lineTooLong(rows.line());
    }
  } catch (error) {
    throw readable(error, path);
  }
  if (rest.length > 0) {
    const last = Buffer.concat([rest, Buffer.from([NEWLINE])]);
    rows.scan(last, last.length);
  }
  return rows.columns();
}

interface RowScan {
  /** Scans whole lines in bytes[0, end). */
  scan(bytes: Buffer, end: number): void;
  line(): number;
  columns(): AnalysisColumns;
}

function createRowScan(onProgress: (rows: number) => void): RowScan {
  const scanTime = createTimeScan();
  let line = 0;
  let rows = 0;
  /** For each column of the file its name and numbers, or undefined where it is ignored. */
  let wanted: ({ name: ColumnName; numbers: GrowingColumn } | undefined)[] | undefined;

  const scanRow = (bytes: Buffer, from: number, to: number) => {
    let at = from;
    for (let column = 0; column < wanted!.length; column++) {
      let end = at;
      while (end < to && bytes[end] !== COMMA) end++;
      const entry = wanted![column];
      if (entry !== undefined) entry.numbers.push(scanCell(bytes, at, end, entry.name, scanTime, line));
      if (end >= to && column < wanted!.length - 1) {
        const missing = wanted!.slice(column + 1).filter((next) => next !== undefined);
        if (missing.some((next) => next.name === 'pressure_bar' || next.name === 'time')) {
          throw wrongCell(line, missing[0]!.name, 'missing: the row ends before it', EXAMPLE[missing[0]!.name]);
        }
        // A logger may leave off trailing columns that have nothing to say.
        for (const next of missing) next.numbers.push(Number.NaN);
        break;
      }
      at = end + 1;
    }
    rows++;
    if (rows > MAX_ROWS) throw tooManyRows();
    if (rows % PROGRESS_ROWS === 0) onProgress(rows);
  };

  return {
    line: () => line + 1,
    scan(bytes, end) {
      let from = 0;
      while (from < end) {
        const newline = bytes.indexOf(NEWLINE, from);
        line++;
        let to = newline;
        while (to > from && (bytes[to - 1] === RETURN || bytes[to - 1] === SPACE || bytes[to - 1] === TAB)) to--;
        if (to > from) {
          if (wanted === undefined) wanted = readHeader(bytes.subarray(from, to).toString('utf8'), line);
          else scanRow(bytes, from, to);
        }
        from = newline + 1;
      }
    },
    columns() {
      if (wanted === undefined) throw noHeader('', 1);
      const of = (name: ColumnName) => wanted!.find((entry) => entry?.name === name)?.numbers.take();
      return {
        timeMs: of('time')!,
        pressureBar: of('pressure_bar')!,
        flowLpm: of('flow_lpm'),
        pumpOn: of('pump_on'),
        inletBar: of('inlet_bar'),
      };
    },
  };
}

function scanCell(
  bytes: Buffer,
  cellFrom: number,
  cellTo: number,
  name: ColumnName,
  scanTime: (bytes: Uint8Array, from: number, to: number) => number | undefined,
  line: number,
): number {
  let from = cellFrom;
  let to = cellTo;
  while (from < to && (bytes[from] === SPACE || bytes[from] === TAB)) from++;
  while (to > from && (bytes[to - 1] === SPACE || bytes[to - 1] === TAB)) to--;
  if (to - from >= 2 && bytes[from] === QUOTE && bytes[to - 1] === QUOTE) {
    from++;
    to--;
  }
  if (name === 'time') {
    const atMs = scanTime(bytes, from, to);
    if (atMs === undefined)
      throw wrongCell(line, name, excerpt(bytes.subarray(from, to).toString('utf8')), EXAMPLE.time);
    return atMs;
  }
  if (from === to) return Number.NaN;
  const value = scanNumber(bytes, from, to) ?? wordValue(bytes.subarray(from, to).toString('utf8'), name);
  if (
    value === undefined ||
    (name === 'pump_on' && value > 1) ||
    value < (name === 'pump_on' ? 0 : Number.NEGATIVE_INFINITY)
  ) {
    throw wrongCell(line, name, excerpt(bytes.subarray(from, to).toString('utf8')), EXAMPLE[name]);
  }
  return value;
}

const NO_READING = /^(?:nan|na|null|none)$/i;
const SWITCH_WORDS: Readonly<Record<string, number>> = { on: 1, true: 1, off: 0, false: 0 };

function wordValue(text: string, name: ColumnName): number | undefined {
  if (NO_READING.test(text)) return Number.NaN;
  return name === 'pump_on' ? SWITCH_WORDS[text.toLowerCase()] : undefined;
}

function readHeader(text: string, line: number): ({ name: ColumnName; numbers: GrowingColumn } | undefined)[] {
  const names = text
    .replace(/^\uFEFF/, '')
    .split(',')
    .map((name) => name.trim().replace(/^"(.*)"$/, '$1'));
  if (!names.includes('time') || !names.includes('pressure_bar')) throw noHeader(text, line);
  const seen = new Set<string>();
  return names.map((name) => {
    const known = ANALYSIS_COLUMNS.find((column) => column === name);
    if (known === undefined) return undefined;
    if (seen.has(known)) {
      throw new Problem(
        'unreadable_analysis_file',
        `Line ${line}: the column ${known} is there twice.`,
        'Keep one of them and name the other differently.',
      );
    }
    seen.add(known);
    return { name: known, numbers: createGrowingColumn() };
  });
}

function noHeader(text: string, line: number): Problem {
  const found = text === '' ? 'the file is empty' : `line ${line} is ${excerpt(text)}`;
  return new Problem(
    'unreadable_analysis_file',
    `The file doesn't start with a header that has the columns time and pressure_bar: ${found}.`,
    'The header reads time,pressure_bar and, where there are such columns, flow_lpm, pump_on, inlet_bar. Other forms of CSV are read by `mainsdiary import`.',
  );
}

function wrongCell(line: number, column: ColumnName, seen: string, example: string): Problem {
  return new Problem(
    'unreadable_analysis_file',
    `Line ${line}, column ${column}: ${seen} can't be read.`,
    `Valid: ${example}. Correct or remove the row.`,
    { details: { line, column } },
  );
}

function lineTooLong(line: number): Problem {
  return new Problem(
    'unreadable_analysis_file',
    `Line ${line} is longer than ${MAX_LINE_BYTES} bytes: the file isn't CSV.`,
    'Give a file with the header time,pressure_bar and one reading a line.',
  );
}

function tooManyRows(): Problem {
  return new Problem(
    'unreadable_analysis_file',
    `The file has more than ${MAX_ROWS.toLocaleString('en-GB')} rows.`,
    'Analyse it in parts of at most a year each.',
  );
}

function readable(error: unknown, path: string): unknown {
  if (error instanceof Problem) return error;
  const { code, message } = error as NodeJS.ErrnoException;
  const name = path === '-' ? 'Standard input' : `The file ${excerpt(path)}`;
  if (code === 'Z_BUF_ERROR' || code === 'Z_DATA_ERROR') {
    return new Problem(
      'unreadable_analysis_file',
      `${name} is damaged or was cut off while packed (${message}).`,
      'Test it with `gzip -t`, then copy or compress it again.',
      { cause: error },
    );
  }
  if (code === undefined) return error;
  return new Problem(
    'unreadable_file',
    `${name} can't be read (${code}).`,
    'Check the name and that you may read it.',
    {
      cause: error,
    },
  );
}

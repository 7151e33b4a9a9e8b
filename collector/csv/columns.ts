import type { Channel } from '../model/channel.ts';
import { CANONICAL_UNIT } from '../model/channel.ts';
import { Problem } from '../model/problem.ts';
import type { CsvOptions } from './csv-options.ts';
import type { CsvQuestion } from './csv-question.ts';
import type { CsvRow } from './csv-tokens.ts';
import { excerpt } from './excerpt.ts';
import { type HeadRows, looksLikeSplitTime, looksLikeTime } from './grammar.ts';
import { isAbsent, numberForm, parseSwitch } from './number-cell.ts';
import { namesForeignUnit, unitInName } from './unit-in-name.ts';

/** Where the header ends and which columns hold what. */
export interface Layout {
  /** Line of the header, undefined where the file has none. Earlier lines are a preamble and aren't rows. */
  readonly headerLine: number | undefined;
  /** Fields of the header: a row with more of them is not one that the header describes. */
  readonly headerWidth: number | undefined;
  /** Names from the header, or "1", "2", … without one. */
  readonly names: readonly string[];
  readonly timeColumns: readonly number[];
  readonly valueColumn: number;
  readonly unit: string;
}

/** A column's default name per channel, besides `value`; the name then fixes the unit too. */
const DEFAULT_VALUE_NAME: Partial<Record<Channel, string>> = {
  pressure: 'pressure_bar',
  flow: 'flow_lpm',
  pump: 'pump_on',
};
/** Share of a column's filled cells that must have the form for the column to count as one of times or of numbers. */
const COLUMN_SHARE = 0.8;

/** Chooses the columns by option, default name or as the only one that fits; questions where several fit. */
export function chooseColumns(
  head: HeadRows,
  options: CsvOptions,
): { layout: Layout | undefined; names: string[]; questions: CsvQuestion[] } {
  const header = findHeader(head.rows, options);
  const rows = header === undefined ? head.rows : head.rows.filter((row) => row.line > header.line);
  const width = Math.max(header?.cells.length ?? 0, ...rows.map((row) => row.cells.length));
  const names = Array.from({ length: width }, (_, column) => header?.cells[column] || String(column + 1));
  const questions: CsvQuestion[] = [];

  const timeColumns = chooseTime(names, header !== undefined, rows, options, questions);
  const valueColumn = chooseValue(names, header !== undefined, rows, options, timeColumns ?? [], questions);
  if (timeColumns === undefined || valueColumn === undefined) return { layout: undefined, names, questions };
  const name = header === undefined ? '' : names[valueColumn]!;
  const unit = options.unit ?? unitInName(name, options.channel) ?? defaultUnit(name, names, options);
  return {
    layout: { headerLine: header?.line, headerWidth: header?.cells.length, names, timeColumns, valueColumn, unit },
    names,
    questions,
  };
}

function defaultUnit(name: string, names: readonly string[], options: CsvOptions): string {
  // Our own export carries the converted value beside the one as sent: its `value` isn't in the logger's unit.
  const isOwnExport = name === 'value' && names.includes('value_as_sent') && names.includes('unit_as_sent');
  if (isOwnExport || name === DEFAULT_VALUE_NAME[options.channel]) return CANONICAL_UNIT[options.channel];
  return options.defaultUnit ?? CANONICAL_UNIT[options.channel];
}

/** The row that holds the names asked for, else the one right before the first row with a time. */
function findHeader(rows: readonly CsvRow[], options: CsvOptions): CsvRow | undefined {
  const firstData = rows.findIndex((row) =>
    row.cells.some((cell, i) => looksLikeTime(cell) || looksLikeSplitTime(row.cells, i)),
  );
  const wanted = [options.time, options.value].filter((name) => name !== undefined && !/^\d+$/.test(name)) as string[];
  const before = firstData < 0 ? rows : rows.slice(0, firstData);
  const named = before.find((row) => {
    const names = wanted.length > 0 ? wanted.flatMap((name) => splitName(name, row.cells)) : ['time'];
    return row.cells.length > 1 && names.every((name) => findName(row.cells, name) !== undefined);
  });
  if (named !== undefined || firstData <= 0) return named;
  const above = rows[firstData - 1]!;
  const words = above.cells.filter((cell) => cell !== '' && numberForm(cell) === undefined).length;
  return words * 2 > above.cells.length || words > 1 ? above : undefined;
}

function splitName(name: string, names: readonly string[]): string[] {
  return names.includes(name) || !name.includes('+') ? [name] : name.split('+').map((part) => part.trim());
}

function findName(names: readonly string[], name: string): number | undefined {
  const exact = names.indexOf(name);
  if (exact >= 0) return exact;
  const lower = name.trim().toLowerCase();
  const alike = names.findIndex((entry) => entry.toLowerCase() === lower);
  return alike < 0 ? undefined : alike;
}

/** A column by name, else by 1-based number. */
function columnOf(names: readonly string[], hasHeader: boolean, asked: string, option: 'time' | 'value'): number {
  const named = hasHeader ? findName(names, asked) : undefined;
  if (named !== undefined) return named;
  if (/^\d{1,4}$/.test(asked) && Number(asked) >= 1 && Number(asked) <= names.length) return Number(asked) - 1;
  const known = names.slice(0, 30).map(excerpt).join(', ');
  throw new Problem(
    'unknown_column',
    `The file has no column ${excerpt(asked)} for ${option}${hasHeader ? `; its columns are ${known}` : `; it has ${names.length} columns and no header`}.`,
    `Name one of them, or give its number from 1 to ${names.length}: ${option}=2.`,
  );
}

function chooseTime(
  names: readonly string[],
  hasHeader: boolean,
  rows: readonly CsvRow[],
  options: CsvOptions,
  questions: CsvQuestion[],
): number[] | undefined {
  if (options.time !== undefined) {
    const parts = splitName(options.time, names);
    if (parts.length > 2) throw columnCount(options.time);
    const columns = parts.map((part) => columnOf(names, hasHeader, part, 'time'));
    return columns.length === 1 ? withDateBefore(columns[0]!, rows) : columns;
  }
  const byName = hasHeader ? findName(names, 'time') : undefined;
  if (byName !== undefined) return withDateBefore(byName, rows);
  const split = names.findIndex(
    (_, column) => share(rows, (row) => looksLikeSplitTime(row.cells, column)) >= COLUMN_SHARE,
  );
  if (split >= 0) return [split, split + 1];
  const times = names
    .map((_, column) => column)
    .filter((column) => cellShare(rows, column, looksLikeTime) >= COLUMN_SHARE);
  if (times.length === 1) return times;
  questions.push({
    option: 'time',
    question: `Which column holds the time of each reading? The file has no column "time" and ${times.length} columns of times.`,
    answers: columnAnswers(names, times.length > 0 ? times : names.map((_, column) => column), hasHeader, rows),
  });
  return undefined;
}

/** A column of times of day with a column of dates right before it, or after a `date` column, is one time in two. */
function withDateBefore(column: number, rows: readonly CsvRow[]): number[] {
  if (column === 0) return [column];
  const joined = share(rows, (row) => looksLikeSplitTime(row.cells, column - 1)) >= COLUMN_SHARE;
  return joined ? [column - 1, column] : [column];
}

function columnCount(asked: string): Problem {
  return new Problem(
    'unknown_column',
    `time is ${excerpt(asked)}: at most two columns make a time, a date and a time of day.`,
    'Write time=Date+Time.',
  );
}

function chooseValue(
  names: readonly string[],
  hasHeader: boolean,
  rows: readonly CsvRow[],
  options: CsvOptions,
  timeColumns: readonly number[],
  questions: CsvQuestion[],
): number | undefined {
  if (options.value !== undefined) return columnOf(names, hasHeader, options.value, 'value');
  if (hasHeader) {
    for (const name of ['value', DEFAULT_VALUE_NAME[options.channel]]) {
      const column = name === undefined ? undefined : findName(names, name);
      if (column !== undefined) return column;
    }
  }
  const isReading = (cell: string) =>
    numberForm(cell) !== undefined || (options.channel === 'pump' && parseSwitch(cell) !== undefined);
  const others = names
    .map((_, column) => column)
    .filter((column) => !timeColumns.includes(column) && !namesForeignUnit(names[column]!, options.channel))
    .filter((column) => cellShare(rows, column, isReading) >= COLUMN_SHARE);
  const readings = others.filter((column) => cellShare(rows, column, looksLikeTime) < COLUMN_SHARE);
  if (readings.length === 1) return readings[0];
  const from =
    readings.length > 0 ? readings : names.map((_, column) => column).filter((c) => !timeColumns.includes(c));
  questions.push({
    option: 'value',
    question: `Which column holds the ${options.channel}? ${readings.length === 0 ? 'None is known to.' : `${readings.length} columns hold numbers.`}`,
    answers: columnAnswers(names, from, hasHeader, rows),
  });
  return undefined;
}

function columnAnswers(
  names: readonly string[],
  columns: readonly number[],
  hasHeader: boolean,
  rows: readonly CsvRow[],
) {
  return columns.slice(0, 50).map((column) => {
    const example = rows.find((row) => (row.cells[column] ?? '') !== '')?.cells[column] ?? '';
    const unique = hasHeader && names.indexOf(names[column]!) === column && names[column]!.length <= 200;
    return {
      value: unique ? names[column]! : String(column + 1),
      meaning: `column ${column + 1}, as in ${excerpt(example)}`,
    };
  });
}

function cellShare(rows: readonly CsvRow[], column: number, test: (cell: string) => boolean): number {
  const filled = rows.filter((row) => !isAbsent(row.cells[column] ?? ''));
  return filled.length === 0 ? 0 : filled.filter((row) => test(row.cells[column]!)).length / filled.length;
}

function share(rows: readonly CsvRow[], test: (row: CsvRow) => boolean): number {
  return rows.length === 0 ? 0 : rows.filter(test).length / rows.length;
}

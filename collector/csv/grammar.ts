import { Problem } from '../model/problem.ts';
import { type CsvOptions, DELIMITERS, type Delimiter } from './csv-options.ts';
import type { CsvHead } from './csv-source.ts';
import { type CsvGrammar, type CsvRow, tokenizeText } from './csv-tokens.ts';
import { numberForm } from './number-cell.ts';
import { isDateOnly, parseTimeCell } from './time-cell.ts';

/** Rows of the head that the grammar and the columns are judged by. */
const JUDGED_ROWS = 400;
/** Rows among which those are looked for: a preamble and blank lines come before them. */
const SEARCHED_ROWS = 2000;

/**
 * A field that is quoted from end to end. A quote that nothing answers within a thousand characters is a stray one, and
 * must not open a field that swallows rows.
 */
const QUOTED_FIELD = /(?:^|[,;\t| \r\n\uFEFF])"(?:[^"]|""){0,1000}"(?:[,;\t| \r\n]|$)/;
/** Weight of cells that are neither time nor number, against a delimiter: it only decides between equals. */
const STRANGE_CELLS_WEIGHT = 0.2;

export interface HeadRows {
  readonly grammar: CsvGrammar;
  /** Trimmed cells of the head's first rows; blank ones left out. */
  readonly rows: readonly CsvRow[];
}

/**
 * Finds the delimiter: the one that splits most rows of the head into a time and something that is a number. A file
 * that mixes commas as delimiter and decimal mark without quotes can't satisfy this by chance, since the time then
 * carries the rest of the row. Throws `unreadable_csv` where no delimiter yields a time anywhere.
 */
export async function findGrammar(head: CsvHead, options: CsvOptions): Promise<HeadRows> {
  if (head.bytes.length === 0) {
    throw new Problem('unreadable_csv', 'The file is empty.', 'Send a CSV file with a time and a value in each row.');
  }
  const quoted = QUOTED_FIELD.test(head.bytes.toString(head.encoding));
  const text = wholeLines(head);
  let best: HeadRows | undefined;
  let bestScore = -1;
  for (const delimiter of options.delimiter === undefined ? DELIMITERS : [options.delimiter]) {
    const grammar: CsvGrammar = { delimiter, quoted, encoding: head.encoding };
    const rows = (await tokenizeText(text, grammar, SEARCHED_ROWS))
      .map((row) => ({ line: row.line, cells: row.cells.map((cell) => cell.trim()) }))
      .filter((row) => !isBlank(row))
      .slice(0, JUDGED_ROWS);
    const score = scoreOf(rows, options, delimiter);
    if (score > bestScore) {
      best = { grammar, rows };
      bestScore = score;
    }
  }
  if (best === undefined || bestScore <= 0) {
    throw new Problem(
      'unreadable_csv',
      'No row near the beginning of the file holds a time that can be read.',
      'Times are read as 2026-05-04T06:31:07Z, 2026-05-04 06:31:07, 04/05/2026 06:31, Unix seconds or milliseconds, 06:31:07 and the like; name the column with time=.',
    );
  }
  return best;
}

export function isBlank(row: CsvRow): boolean {
  return row.cells.every((cell) => cell === '' || cell.trim() === '');
}

/** True for a cell that can be a time on its own; bare numbers only from 2000 to 2100, else every meter reading is one. */
export function looksLikeTime(cell: string): boolean {
  const time = parseTimeCell(cell);
  if (time === undefined) return false;
  return time.kind !== 'instant' || (time.atMs >= 946_684_800_000 && time.atMs < 4_102_444_800_000);
}

/** True where the cell is a date and the next one a time of day: one time in two columns. */
export function looksLikeSplitTime(cells: readonly string[], column: number): boolean {
  const date = cells[column];
  const time = cells[column + 1];
  return date !== undefined && time !== undefined && isDateOnly(date) && looksLikeTime(`${date} ${time}`);
}

function scoreOf(rows: readonly CsvRow[], options: CsvOptions, delimiter: Delimiter): number {
  let score = 0;
  for (const { cells } of rows) {
    let times = 0;
    let numbers = 0;
    for (let column = 0; column < cells.length; column++) {
      const cell = cells[column]!;
      if (looksLikeSplitTime(cells, column)) {
        times++;
        column++;
      } else if (looksLikeTime(cell)) times++;
      else if (numberForm(cell) !== undefined) numbers++;
    }
    if (times === 0) continue;
    score += numbers + times > 1 ? 1 : 0.1;
    score += (STRANGE_CELLS_WEIGHT * (numbers + times)) / cells.length;
  }
  // A file without one readable time still gets its grammar where the header holds the names asked for.
  const names = [options.time ?? 'time', options.value ?? 'value'];
  if (score === 0 && delimiter !== ' ' && rows[0] && names.every((name) => rows[0]!.cells.includes(name))) score = 0.01;
  return score;
}

/** The head without the line that its end cuts in two. */
export function wholeLines(head: CsvHead): Buffer {
  if (head.whole) return head.bytes;
  const end = Math.max(head.bytes.lastIndexOf(0x0a), head.bytes.lastIndexOf(0x0d));
  if (end < 0) return head.bytes;
  let cut = end + (head.encoding === 'utf16le' ? 2 : 1);
  if (head.bytes.includes(0x22)) {
    // Inside quotes a line break is no end of a record: step back to a break with an even number of quotes before it.
    let quotes = 0;
    let safe = 0;
    for (let index = 0; index < cut; index++) {
      const byte = head.bytes[index];
      if (byte === 0x22) quotes++;
      else if ((byte === 0x0a || byte === 0x0d) && quotes % 2 === 0)
        safe = index + (head.encoding === 'utf16le' ? 2 : 1);
    }
    cut = safe > 0 ? safe : cut;
  }
  return head.bytes.subarray(0, cut);
}

import { pipeline, Readable } from 'node:stream';
import { type Options, parse } from 'csv-parse';
import { Problem } from '../model/problem.ts';
import type { Delimiter } from './csv-options.ts';

export type TextEncoding = 'utf8' | 'utf16le' | 'latin1';

/** How bytes become cells. */
export interface CsvGrammar {
  readonly delimiter: Delimiter;
  /** False where the file's head holds no quote: a stray one later then spoils its row only, not the rest of the file. */
  readonly quoted: boolean;
  readonly encoding: TextEncoding;
}

/** One record, with the number of the line it starts on (the first is 1). */
export interface CsvRow {
  readonly line: number;
  readonly cells: readonly string[];
}

/** Longest record in bytes: a quote that is never closed must not swallow the file into memory. */
const MAX_RECORD_BYTES = 65_536;
/** Rows handed on together: the cost of an asynchronous step is then spread over many. */
const ROWS_PER_BATCH = 1000;
/** A text is handed over in slices, so that its first rows can be had without reading all of it. */
const SLICE_BYTES = 16_384;

/** The first records of a text (a file's head). */
export async function tokenizeText(text: Buffer, grammar: CsvGrammar, maxRows: number): Promise<CsvRow[]> {
  const slices = function* () {
    for (let from = 0; from < text.length; from += SLICE_BYTES) yield text.subarray(from, from + SLICE_BYTES);
  };
  const rows: CsvRow[] = [];
  for await (const batch of tokenizeStream(Readable.from(slices(), { objectMode: false }), grammar)) {
    rows.push(...batch);
    if (rows.length >= maxRows) break;
  }
  return rows.slice(0, maxRows);
}

/** Records of a stream of plain bytes, in batches, with back pressure; blank lines come as a row of one empty cell. */
export async function* tokenizeStream(input: Readable, grammar: CsvGrammar): AsyncGenerator<CsvRow[]> {
  const parser = parse(parserOptions(grammar));
  // Of every row with another number of fields than the first one the parser makes an error object, stack and all, and
  // drops it: 60 µs a row, during which a server does nothing else. While it counts no records, each row is the first.
  Object.defineProperty(parser.info, 'records', { get: () => 0, set: () => undefined });
  pipeline(input, parser, () => undefined);
  const number = lineCounter(grammar);
  let batch: CsvRow[] = [];
  try {
    for await (const cells of parser) {
      batch.push(number(cells as string[]));
      if (batch.length === ROWS_PER_BATCH) {
        yield batch;
        batch = [];
      }
    }
  } catch (error) {
    throw unreadable(error);
  }
  if (batch.length > 0) yield batch;
}

function parserOptions(grammar: CsvGrammar): Options {
  return {
    delimiter: grammar.delimiter,
    quote: grammar.quoted ? '"' : null,
    encoding: grammar.encoding,
    bom: true,
    // Written out, since the parser's own guess from the first line would glue a file of mixed line ends together.
    record_delimiter: ['\r\n', '\n', '\r'],
    relax_column_count: true,
    relax_quotes: true,
    max_record_size: MAX_RECORD_BYTES,
  };
}

/** The parser's own line numbers more than double its time; a record ends one line plus the breaks inside its quotes. */
function lineCounter(grammar: CsvGrammar): (cells: string[]) => CsvRow {
  let line = 1;
  return (cells) => {
    const row = { line, cells };
    line += 1;
    if (grammar.quoted) {
      for (const cell of cells) {
        if (cell.includes('\n') || cell.includes('\r')) line += cell.split(/\r\n|\n|\r/).length - 1;
      }
    }
    return row;
  };
}

/** The Problem `unreadable_csv` for errors of the parser and of gzip; others as they are. */
export function unreadable(error: unknown): unknown {
  if (error instanceof Problem || !(error instanceof Error)) return error;
  const code = (error as NodeJS.ErrnoException).code ?? '';
  if (code === 'CSV_MAX_RECORD_SIZE') {
    return new Problem(
      'unreadable_csv',
      `A row of the file is longer than ${MAX_RECORD_BYTES} bytes: an opening quote is never closed, or the file isn't CSV.`,
      'Look for a single " in the file, or export it as CSV again. Nothing was stored.',
      { cause: error },
    );
  }
  if (code === 'CSV_QUOTE_NOT_CLOSED') {
    return new Problem(
      'unreadable_csv',
      'The file ends inside quotes: it was cut off, or an opening quote is never closed.',
      'Look for a single " in the file, or export it as CSV again. Nothing was stored.',
      { cause: error },
    );
  }
  if (code === 'Z_BUF_ERROR' || code === 'Z_DATA_ERROR') {
    return new Problem(
      'unreadable_csv',
      `The gzip file is damaged or was cut off (${error.message}).`,
      'Test it with `gzip -t FILE`, copy or compress it again. Nothing was stored.',
      { cause: error },
    );
  }
  return error;
}

import { formatRfc3339 } from '../model/instant.ts';
import type { EpochMs } from '../model/units.ts';
import { type CsvOptions, checkCsvOptions } from './csv-options.ts';
import type { CsvQuestion } from './csv-question.ts';
import { bytesSource, HEAD_BYTES, readHead } from './csv-source.ts';
import { tokenizeText } from './csv-tokens.ts';
import { isBlank, wholeLines } from './grammar.ts';
import { type UnderstoodFile, understoodFile } from './import-csv.ts';
import { planColumns, planRows } from './plan-import.ts';
import { timeText } from './survey.ts';

/** A row as the import would read it. */
export type PreviewRow =
  | {
      readonly line: number;
      readonly text: string;
      readonly time: string;
      readonly value: number;
      readonly unit: string;
    }
  | { readonly line: number; readonly text: string; readonly refused: string };

export interface CsvPreview {
  /** Names of all columns, or their numbers where there is no header. */
  readonly columns: readonly string[];
  /** Undefined while the columns are open. */
  readonly understood: UnderstoodFile | undefined;
  /** The time of the first row, as it stands in the file. */
  readonly timeAsWritten: string | undefined;
  /** The first rows. */
  readonly rows: readonly PreviewRow[];
  /** What would have to be answered; the rest of the file may answer some of it. */
  readonly questions: readonly CsvQuestion[];
  /** False where only the beginning of the file was seen. */
  readonly whole: boolean;
}

const PREVIEW_ROWS = 20;
/** Rows that may settle what the first ones leave open. */
const SURVEYED_ROWS = 10_000;

/**
 * How an import would read a file, judged from its first 256 kB (plain or gzip): nothing is stored. Throws the same
 * Problems as the import, except that open questions are part of the answer.
 */
export async function previewCsv(bytes: Uint8Array, options: CsvOptions, nowMs: EpochMs): Promise<CsvPreview> {
  checkCsvOptions(options);
  const cut = bytes.length >= HEAD_BYTES;
  const head = await readHead(bytesSource(bytes.subarray(0, HEAD_BYTES)), cut);
  const { grammar, layout, names, questions } = await planColumns(head, options);
  const whole = head.whole && !cut;
  if (layout === undefined) {
    return { columns: names, understood: undefined, timeAsWritten: undefined, rows: [], questions, whole };
  }
  const rows = (await tokenizeText(wholeLines(head), grammar, SURVEYED_ROWS)).filter(
    (row) => row.line > (layout.headerLine ?? 0) && !isBlank(row),
  );
  const planned = planRows(rows, grammar, layout, options, nowMs);
  const shown = rows.slice(0, PREVIEW_ROWS).map((row): PreviewRow => {
    const reading = planned.plan.readRow(row);
    const text = row.cells.join(grammar.delimiter).slice(0, 200);
    return reading.kind === 'sample'
      ? { line: row.line, text, time: formatRfc3339(reading.atMs), value: reading.value, unit: layout.unit }
      : { line: row.line, text, refused: reading.reason };
  });
  return {
    columns: names,
    understood: understoodFile(planned.plan),
    timeAsWritten: rows[0] && timeText(rows[0].cells, layout),
    rows: shown,
    questions: [...questions, ...planned.questions],
    whole,
  };
}

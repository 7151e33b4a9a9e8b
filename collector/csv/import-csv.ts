import { Readable } from 'node:stream';
import { Problem } from '../model/problem.ts';
import type { EpochMs } from '../model/units.ts';
import type { Piece, PieceOutcome } from '../store/port.ts';
import { type CsvOptions, checkCsvOptions } from './csv-options.ts';
import type { CsvSource } from './csv-source.ts';
import { createPieceMaker } from './piece-maker.ts';
import { dataRows, planImport } from './plan-import.ts';
import { spool } from './spool.ts';

export interface ImportProgress {
  /** `checking`: every row is looked at, nothing is stored yet; `storing`: rows are stored as they are read. */
  readonly step: 'checking' | 'storing';
  readonly rows: number;
}

export interface ImportInput {
  /** A stream (an upload: it is spooled to a temporary file first) or a source that can be opened again (a file). */
  readonly input: Readable | CsvSource;
  readonly options: CsvOptions;
  readonly storePieces: (pieces: Piece[]) => Promise<PieceOutcome[]>;
  readonly nowMs: EpochMs;
  readonly onProgress?: ((progress: ImportProgress) => void) | undefined;
  /** Where uploads are spooled; the system's temporary folder by default. */
  readonly spoolFolder?: string | undefined;
}

export interface RefusedRow {
  readonly line: number;
  readonly reason: string;
}

/** What became of a file. `rows = stored + duplicate + conflict + erased + refusedCount`; header, preamble and blank lines are no rows. */
export interface ImportReport {
  readonly rows: number;
  readonly stored: number;
  readonly duplicate: number;
  readonly conflict: number;
  /** Rows of hours whose samples were erased by age; they are left out. */
  readonly erased: number;
  /** The first 100. */
  readonly refused: readonly RefusedRow[];
  readonly refusedCount: number;
  /** How the file was read. */
  readonly understood: UnderstoodFile;
}

export interface UnderstoodFile {
  readonly delimiter: string;
  readonly decimal: string;
  readonly timeColumns: readonly string[];
  readonly valueColumn: string;
  readonly unit: string;
  readonly zone: string;
  readonly headerLine: number | null;
}

const REFUSALS_KEPT = 100;
const PROGRESS_ROWS = 50_000;

/**
 * Imports a CSV file into one channel of a logger, in bounded memory whatever its size. The whole file is looked at
 * before the first sample is stored, so a file that can be read in two ways (`needs_answer`), names no such column
 * (`unknown_column`) or isn't CSV (`unreadable_csv`) leaves nothing behind. After that single rows are refused by their
 * line, the rest is stored batch by batch; a store that fails midway rejects, and sending the file again completes it,
 * since the same sample twice is one.
 */
export async function importCsv(input: ImportInput): Promise<ImportReport> {
  checkCsvOptions(input.options);
  if (!(input.input instanceof Readable)) return importSource(input.input, input);
  const spooled = await spool(input.input, input.spoolFolder);
  try {
    return await importSource(spooled.source, input);
  } finally {
    await spooled.release();
  }
}

async function importSource(source: CsvSource, input: ImportInput): Promise<ImportReport> {
  const { options, nowMs, onProgress } = input;
  let told = 0;
  const tell = (step: ImportProgress['step'], rows: number) => {
    if (rows - told < PROGRESS_ROWS && rows >= told) return;
    told = rows;
    onProgress?.({ step, rows });
  };
  const plan = await planImport(source, options, nowMs, (rows) => tell('checking', rows));
  const totals = { stored: 0, duplicate: 0, conflict: 0, erased: 0 };
  const refused: RefusedRow[] = [];
  let refusedCount = 0;
  let rows = 0;
  const maker = createPieceMaker({ ...options, unit: plan.layout.unit, arrivedMs: nowMs }, async (pieces) => {
    for (const outcome of await input.storePieces(pieces)) {
      totals.stored += outcome.stored;
      totals.duplicate += outcome.duplicate;
      totals.conflict += outcome.conflict;
      totals.erased += outcome.erased ?? 0;
    }
  });
  for await (const batch of dataRows(source, plan.grammar, plan.layout.headerLine)) {
    for (const row of batch) {
      rows++;
      const reading = plan.readRow(row);
      if (reading.kind === 'sample') maker.add(reading.atMs, reading.value);
      else {
        refusedCount++;
        if (refused.length < REFUSALS_KEPT) refused.push({ line: row.line, reason: reading.reason });
      }
    }
    if (maker.full()) await maker.flush();
    tell('storing', rows);
  }
  await maker.flush();
  if (rows === 0) {
    throw new Problem('unreadable_csv', 'The file has a header but no rows.', 'Send a file with readings in it.');
  }
  return { rows, ...totals, refused, refusedCount, understood: understoodFile(plan) };
}

/** What people are told about how a file was read. */
export function understoodFile(
  plan: Pick<Awaited<ReturnType<typeof planImport>>, 'grammar' | 'layout' | 'rules'>,
): UnderstoodFile {
  const { grammar, layout, rules } = plan;
  return {
    delimiter: grammar.delimiter,
    decimal: rules.decimal,
    timeColumns: layout.timeColumns.map((column) => layout.names[column]!),
    valueColumn: layout.names[layout.valueColumn]!,
    unit: layout.unit,
    zone: rules.zone,
    headerLine: layout.headerLine ?? null,
  };
}

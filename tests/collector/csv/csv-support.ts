import { Readable } from 'node:stream';
import type { CsvOptions } from '../../../collector/csv/csv-options.ts';
import type { CsvQuestion } from '../../../collector/csv/csv-question.ts';
import { type ImportReport, importCsv } from '../../../collector/csv/import-csv.ts';
import { Problem } from '../../../collector/model/problem.ts';
import type { Piece } from '../../../collector/store/port.ts';

/** After every date in the tests and the recordings they read. */
export const NOW_MS = Date.UTC(2026, 11, 31);

export interface Imported {
  readonly report: ImportReport;
  readonly pieces: Piece[];
  readonly times: string[];
  readonly values: number[];
}

/** Imports text or bytes as an upload and gives the samples in the order in which they were handed to the store. */
export async function importText(file: string | Buffer, options: Partial<CsvOptions> = {}): Promise<Imported> {
  const pieces: Piece[] = [];
  const report = await importCsv({
    input: Readable.from([typeof file === 'string' ? Buffer.from(file) : file]),
    options: { loggerId: 'front-hall', channel: 'pressure', ...options },
    nowMs: NOW_MS,
    storePieces: async (given) => {
      pieces.push(...given);
      return given.map((piece) => ({ stored: piece.timeMs.length, duplicate: 0, conflict: 0 }));
    },
  });
  const times = pieces.flatMap((piece) => [...piece.timeMs]).map((atMs) => new Date(atMs).toISOString());
  return { report, pieces, times, values: pieces.flatMap((piece) => [...piece.value]) };
}

/** The Problem that an action rejects with. */
export async function problemOf(action: Promise<unknown>): Promise<Problem> {
  const thrown = await action.then(
    () => undefined,
    (error: unknown) => error,
  );
  if (!(thrown instanceof Problem)) throw new Error(`expected a Problem, got ${String(thrown)}`);
  return thrown;
}

/** The questions of an import that needs answers. */
export async function questionsOf(action: Promise<unknown>): Promise<readonly CsvQuestion[]> {
  const problem = await problemOf(action);
  if (problem.code !== 'needs_answer') throw problem;
  return problem.details['questions'] as CsvQuestion[];
}

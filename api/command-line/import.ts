import { createReadStream } from 'node:fs';
import { open } from 'node:fs/promises';
import type { Readable } from 'node:stream';
import { type CsvOptions, checkCsvOptions } from '../../collector/csv/csv-options.ts';
import { type CsvSource, fileSource } from '../../collector/csv/csv-source.ts';
import { excerpt } from '../../collector/csv/excerpt.ts';
import { type ImportProgress, type ImportReport, importCsv } from '../../collector/csv/import-csv.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { Store } from '../../collector/store/port.ts';
import { type Command, type GivenOptions, textOf } from './command.ts';
import { importAccount } from './import-account.ts';
import { importThroughServer, type LocalServer } from './import-through-server.ts';
import { withDataFolder } from './with-data-folder.ts';
import { writeText } from './write-text.ts';

/** A delimiter by name, since a tab or a space is awkward to write on a command line. */
const DELIMITER_NAMES: Readonly<Record<string, string>> = {
  comma: ',',
  semicolon: ';',
  tab: '\t',
  bar: '|',
  space: ' ',
};

/** The options of the command as those of the import; refused together where any is wrong. */
export function csvOptionsOf(options: GivenOptions): CsvOptions {
  const loggerId = textOf(options, 'logger');
  if (loggerId === undefined) {
    throw new Problem(
      'option_wrong',
      'No logger was named.',
      'For example: mainsdiary import week.csv --logger front-hall',
    );
  }
  const delimiter = textOf(options, 'delimiter');
  const asked = {
    loggerId,
    channel: textOf(options, 'channel') ?? 'pressure',
    time: textOf(options, 'time'),
    value: textOf(options, 'value'),
    unit: textOf(options, 'unit'),
    zone: textOf(options, 'zone'),
    date: textOf(options, 'date'),
    dateOrder: textOf(options, 'date-order'),
    clockForm: textOf(options, 'clock-form'),
    decimal: textOf(options, 'decimal'),
    delimiter: delimiter === undefined ? undefined : (DELIMITER_NAMES[delimiter] ?? delimiter),
  } as CsvOptions;
  checkCsvOptions(asked);
  return asked;
}

/** Imports into a store that this process holds. Throws `unknown_logger` where the logger was never added. */
export async function importIntoStore(
  store: Store,
  options: CsvOptions,
  input: Readable | CsvSource,
  nowMs: number,
  onProgress?: (progress: ImportProgress) => void,
): Promise<ImportReport> {
  const logger = await store.logger(options.loggerId);
  if (logger === undefined || logger.hiddenMs !== undefined) {
    throw new Problem(
      'unknown_logger',
      `There is no logger ${excerpt(options.loggerId)}.`,
      'Add it on the page or with POST /api/loggers first, so that its samples belong to a house.',
    );
  }
  const settings = (await store.channelSettings(options.loggerId)).filter((entry) => entry.channel === options.channel);
  const latest = settings.sort((a, b) => a.fromMs - b.fromMs).at(-1);
  return importCsv({
    input,
    options: { ...options, defaultUnit: latest?.unit },
    storePieces: (pieces) => store.store(pieces),
    nowMs,
    onProgress,
  });
}

async function importFile(
  file: string,
  options: CsvOptions,
  way: { readonly server: LocalServer } | { readonly store: Store },
): Promise<ImportReport> {
  if ('server' in way) {
    const input = file === '-' ? process.stdin : createReadStream(file);
    return importThroughServer(way.server, options, input, await isGzip(file));
  }
  const input = file === '-' ? process.stdin : fileSource(file);
  return importIntoStore(way.store, options, input, Date.now(), (progress) => {
    process.stderr.write(`${progress.step}: ${progress.rows.toLocaleString('en-GB')} rows\n`);
  });
}

/** The server looks at the bytes itself; the content type only has to be one that it takes. */
async function isGzip(file: string): Promise<boolean> {
  if (file === '-') return false;
  const handle = await open(file);
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(2), 0, 2, 0);
    return bytesRead === 2 && buffer[0] === 0x1f && buffer[1] === 0x8b;
  } finally {
    await handle.close();
  }
}

async function refuseUnreadable(file: string): Promise<void> {
  if (file === '-') return;
  try {
    const handle = await open(file);
    const isFolder = (await handle.stat()).isDirectory();
    await handle.close();
    if (isFolder) throw Object.assign(new Error('a folder'), { code: 'EISDIR' });
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    throw new Problem(
      'unreadable_file',
      `The file ${excerpt(file)} can't be read (${code ?? message}).`,
      'Check the name and that you may read it.',
      { cause: error },
    );
  }
}

/** With the flag's name in place of the parameter's, since that is what is written on a command line. */
function asFlags(problem: Problem): Problem {
  if (problem.code !== 'needs_answer') return problem;
  const hint = problem.hint.replace(
    /\b(time|value|zone|date|dateOrder|clockForm|decimal)=/g,
    (_, name: string) => `--${name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)} `,
  );
  return new Problem(problem.code, problem.message, hint, { details: problem.details });
}

export const importCommand: Command = {
  name: 'import',
  summary: 'imports a CSV file of one channel; the same file again changes nothing',
  positional: [{ name: 'file', description: 'CSV, plain or gzip; - is standard input', required: true }],
  options: [
    { name: 'logger', value: 'id', description: 'logger that the samples belong to', example: 'front-hall' },
    {
      name: 'channel',
      value: 'channel',
      fallback: 'pressure',
      description: 'pressure, flow, pump, temperature, battery or signal',
      example: 'flow',
    },
    {
      name: 'time',
      value: 'column',
      description: 'column of the times by name or number, two joined by + (default: time, else the only one)',
      example: 'Date+Time',
    },
    {
      name: 'value',
      value: 'column',
      description: 'column of the values by name or number (default: value, pressure_bar, else the only one)',
      example: '2',
    },
    {
      name: 'unit',
      value: 'unit',
      description: "unit of the values (default: the one in the column's name, else the logger's)",
      example: 'kPa',
    },
    { name: 'zone', value: 'zone', description: 'time zone of times without an offset', example: 'Europe/London' },
    {
      name: 'date',
      value: 'date',
      description: 'day on which a file of times of day starts; with the hour for minutes and seconds: 2026-05-04T14',
      example: '2026-05-04',
    },
    {
      name: 'date-order',
      value: 'order',
      description: 'day-first, month-first or year-first, where the dates leave it open',
      example: 'day-first',
    },
    {
      name: 'clock-form',
      value: 'form',
      description: 'HH:MM or mm:ss, where times of two numbers leave it open',
      example: 'mm:ss',
    },
    { name: 'decimal', value: 'mark', description: 'decimal mark, where the values leave it open', example: ',' },
    {
      name: 'delimiter',
      value: 'character',
      description: 'comma, semicolon, tab, bar or space (default: found from the file)',
      example: 'semicolon',
    },
    {
      name: 'data',
      value: 'folder',
      fallback: './mainsdiary-data',
      description: 'data folder; while a server holds it the import goes through the server',
      example: './mainsdiary-data',
    },
    { name: 'json', description: 'prints the report as JSON' },
  ],
  examples: [
    'mainsdiary import week.csv --logger front-hall',
    'mainsdiary import export.csv.gz --logger front-hall --time Zeit --value Druck --unit mbar --zone Europe/Berlin',
    'mainsdiary import bench.csv --logger bench --value pre1 --unit MPa --date 2024-10-22T15 --zone UTC',
  ],
  async run(positional, given) {
    const file = positional[0];
    if (file === undefined)
      throw new Problem(
        'option_wrong',
        'No file was named.',
        'For example: mainsdiary import week.csv --logger front-hall',
      );
    const options = csvOptionsOf(given);
    await refuseUnreadable(file);
    try {
      const report = await withDataFolder(textOf(given, 'data'), (way) => importFile(file, options, way));
      const text =
        given['json'] === true
          ? `${JSON.stringify(report)}\n`
          : importAccount(report, options.channel, options.loggerId);
      await writeText(process.stdout, text);
      return report.refusedCount === report.rows ? 1 : 0;
    } catch (error) {
      throw error instanceof Problem ? asFlags(error) : error;
    }
  },
};

import type { Readable, Writable } from 'node:stream';
import { Problem } from '../../collector/model/problem.ts';
import { NEMA_SOURCE, STARTS_LIMIT_SCOPE, startsLimitExamples } from '../../collector/model/starts-limit.ts';
import { analyseOnce } from '../analysis/analyse.ts';
import { readAnalysisFile } from './analysis-file.ts';
import { type Command, textOf } from './command.ts';
import { findingsAccount } from './findings-account.ts';
import { readSiteFile } from './site-file.ts';
import { writeText } from './write-text.ts';

export interface AnalyseStreams {
  readonly standardInput: Readable;
  readonly standardOutput: Writable;
  readonly standardError: Writable;
}

/**
 * Prints the findings of a file on standard output: the document alone with `json`, else an account in words.
 * Progress goes to standard error. Throws the Problems of the two files' readers.
 */
export async function analyseFile(
  args: { readonly file: string; readonly site: string; readonly json: boolean },
  streams: AnalyseStreams,
): Promise<void> {
  const { standardInput, standardOutput, standardError } = streams;
  const site = await readSiteFile(args.site);
  const onProgress = (rows: number) => {
    standardError.write(`${rows.toLocaleString('en-GB')} rows read\n`);
  };
  const columns = await readAnalysisFile(args.file, { standardInput, onProgress });
  const rows = columns.timeMs.length;
  standardError.write(`${rows.toLocaleString('en-GB')} ${rows === 1 ? 'row' : 'rows'} read, analysing\n`);
  const found = analyseOnce(columns, site);
  await writeText(standardOutput, args.json ? `${JSON.stringify(found)}\n` : findingsAccount(found));
}

export const analyseCommand: Command = {
  name: 'analyse',
  summary: 'says what a log shows: standing pressure, sags, low supply, own draws, pump, changes, faults',
  positional: [
    {
      name: 'file',
      description:
        'CSV with the header time,pressure_bar[,flow_lpm][,pump_on][,inlet_bar]; .gz is read too, - is standard input',
      required: true,
    },
  ],
  options: [
    {
      name: 'site',
      value: 'file',
      description: 'time zone, sensor and thresholds of the place (only timeZone is needed)',
      example: 'site.json',
    },
    { name: 'json', description: 'prints the findings document and nothing else' },
  ],
  examples: [
    'mainsdiary analyse week.csv --site site.json',
    'mainsdiary analyse week.csv.gz --site site.json --json > findings.json',
    'gunzip -c week.csv.gz | mainsdiary analyse - --site site.json --json',
  ],
  notes: [
    'What is known of a pump may stand in the site file, for example:',
    '  "pump": {"allowedHours": [6, 22], "mostStartsPerHour": 11.5, "startsLimitSource": "NEMA MG 10, 2-pole, 2 hp"}',
    `No limit of starts is assumed. ${NEMA_SOURCE}, starts an hour: ${startsLimitExamples()}.`,
    STARTS_LIMIT_SCOPE,
  ],
  async run(positional, options) {
    const file = positional[0];
    const site = textOf(options, 'site');
    if (file === undefined || site === undefined) {
      throw new Problem(
        'option_wrong',
        file === undefined ? 'No file was named.' : 'No site was named: without a time zone a day has no beginning.',
        'For example: mainsdiary analyse week.csv --site site.json; the least that site.json needs is {"timeZone": "Europe/London"}.',
      );
    }
    const { stdin, stdout, stderr } = process;
    await analyseFile(
      { file, site, json: options['json'] === true },
      { standardInput: stdin, standardOutput: stdout, standardError: stderr },
    );
    return 0;
  },
};

import { readdirSync, readFileSync } from 'node:fs';
import type { Trial, TrialResult } from './trials.ts';

/** One trial of a run; `failed` says why there are no figures. */
export interface ResultRow extends Partial<TrialResult> {
  readonly name: string;
  readonly bareMeans: string;
  readonly oursMeans: string;
  readonly wanted: Trial['wanted'] | undefined;
  readonly ratio?: number;
  readonly met?: boolean;
  readonly failed?: string;
  /** Load of the machine over the last minute of the trial: what was measured while others work is worth less. */
  readonly load?: number;
}

export interface BenchResults {
  readonly date: string;
  readonly version: string;
  readonly machine: {
    readonly processor: string;
    readonly cores: number;
    readonly memoryGiB: number;
    readonly platform: string;
  };
  readonly versions: Readonly<Record<string, string>>;
  readonly rows: readonly ResultRow[];
}

/** The newest results file of a folder, undefined where there is none. Names are dates, so they sort. */
export function newestResults(folder: URL): BenchResults | undefined {
  const name = readdirSync(folder)
    .filter((file) => /^\d{4}-\d\d-\d\d\.json$/.test(file))
    .sort()
    .at(-1);
  return name === undefined ? undefined : (JSON.parse(readFileSync(new URL(name, folder), 'utf8')) as BenchResults);
}

/** Results as the README quotes them. */
export function readmeTable({ date, machine, versions, rows }: BenchResults): string {
  const shown = (value: number | undefined) => (value === undefined ? '' : Number(value.toPrecision(3)).toString());
  const wanted = ({ wanted }: ResultRow) =>
    wanted === undefined
      ? ''
      : 'atMost' in wanted
        ? `at most ${shown(wanted.atMost)}`
        : `at least ${shown(wanted.atLeast)}`;
  const lines = rows.map((row) =>
    row.failed === undefined
      ? `| ${row.name} | ${shown(row.ours)} | ${shown(row.bare)} | ${shown(row.ratio)} | ${wanted(row)}${row.met === false ? ', **missed**' : ''} | ${row.load ?? ''} |`
      : `| ${row.name} | | | failed | ${wanted(row)} | |`,
  );
  const made = Object.entries(versions).map(([name, version]) => `${name} ${version}`);
  return [
    `Measured on ${date}: ${machine.processor}, ${machine.cores} cores, ${machine.memoryGiB} GiB, ${machine.platform}, ${made.join(', ')}.`,
    '',
    '| what | ours | bare | ratio | wanted | load |',
    '|---|---|---|---|---|---|',
    ...lines,
  ].join('\n');
}

import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir, totalmem } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type BenchResults, newestResults, type ResultRow, readmeTable } from './bench-results.ts';
import { TRIALS, type Trial, type TrialResult } from './trials.ts';

/*
 * `npm run bench` runs every trial, writes the results of the day and puts them into the README; `npm run bench -- NAME`
 * runs those whose name holds NAME and puts them in the place of the day's earlier ones. A trial that fails stops no
 * other.
 */
const root = new URL('../../..', import.meta.url);
const only = process.argv.slice(2).join(' ');
/** No trial takes longer; one that hangs must not stop the others. */
const LONGEST_TRIAL_MS = 45 * 60_000;
const README_MARKS = /(<!-- bench:start -->\n)[\s\S]*?(\n<!-- bench:end -->)/;

const chosen = TRIALS.filter((trial) => trial.name.includes(only));
if (chosen.length === 0) {
  process.stderr.write(`No trial is named "${only}". There are:\n${TRIALS.map(({ name }) => `  ${name}\n`).join('')}`);
  process.exit(2);
}
// What several trials measure on (a year at 1 Hz) is made once; a folder of one's own is kept for the next run.
const given = process.env['BENCH_FOLDER'];
const shared = given ?? mkdtempSync(join(tmpdir(), 'mainsdiary-bench-'));
mkdirSync(shared, { recursive: true });
const rows = chosen.map((trial, index) => {
  process.stderr.write(`${index + 1} of ${chosen.length}: ${trial.name} …\n`);
  const row = runTrial(trial);
  process.stdout.write(`${lineOf(row)}\n`);
  if (row.failed !== undefined) process.exitCode = 1;
  return row;
});
if (!given) rmSync(shared, { recursive: true, force: true });
writeResults(rows);

function runTrial(trial: Trial): ResultRow {
  const { name, bare: bareMeans, ours: oursMeans, wanted } = trial;
  const about = { name, bareMeans, oursMeans, wanted };
  const run = spawnSync(
    process.execPath,
    ['--expose-gc', fileURLToPath(new URL(trial.file, import.meta.url)), ...(trial.arguments ?? [])],
    {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'inherit'],
      env: { ...process.env, BENCH_FOLDER: shared },
      timeout: LONGEST_TRIAL_MS,
    },
  );
  const last = run.stdout?.trim().split('\n').at(-1) ?? '';
  if (run.status !== 0 || !last.startsWith('{'))
    return { ...about, failed: run.error?.message ?? `ended with ${run.status ?? run.signal}` };
  const result = JSON.parse(last) as TrialResult;
  const ratio = result.ours / result.bare;
  if (!Number.isFinite(ratio)) return { ...about, failed: `printed no figures: ${last.slice(0, 200)}` };
  return {
    ...about,
    ...result,
    ratio,
    load: Number(loadavg()[0]!.toFixed(1)),
    ...(wanted ? { met: isMet(ratio, wanted) } : {}),
  };
}

function isMet(ratio: number, wanted: NonNullable<Trial['wanted']>): boolean {
  return 'atMost' in wanted ? ratio <= wanted.atMost : ratio >= wanted.atLeast;
}

function lineOf({ name, failed, ours, bare, ratio, met, wanted }: ResultRow): string {
  if (failed !== undefined) return `${name}: failed, ${failed}`;
  const figures = `ours ${ours!.toPrecision(4)}, bare ${bare!.toPrecision(4)}, ratio ${ratio!.toPrecision(3)}`;
  return `${name}: ${figures}${met === undefined ? '' : met ? ' (as wanted)' : ` (wanted ${JSON.stringify(wanted)})`}`;
}

function writeResults(made: readonly ResultRow[]): void {
  const { version, dependencies } = packageOf('package.json') as {
    version: string;
    dependencies: Record<string, string>;
  };
  const libraries = ['better-sqlite3', 'mqtt', 'aedes', 'express'].filter((name) => name in dependencies);
  const versions = Object.assign(
    { node: process.versions.node },
    ...libraries.map((name) => ({ [name]: packageOf(`node_modules/${name}/package.json`)['version'] })),
    ...made.map((row) => row.versions ?? {}),
  ) as Record<string, string>;
  const date = new Date().toISOString().slice(0, 10);
  const folder = new URL('tests/bench/results/', root);
  mkdirSync(folder, { recursive: true });
  const earlier = newestResults(folder);
  const kept = earlier?.date === date ? earlier : undefined;
  const results: BenchResults = {
    date,
    version,
    machine: {
      processor: cpus()[0]?.model ?? 'unknown',
      cores: cpus().length,
      memoryGiB: Math.round(totalmem() / 2 ** 30),
      platform: `${process.platform} ${process.arch}`,
    },
    versions: { ...kept?.versions, ...versions },
    rows: TRIALS.flatMap(
      ({ name }) => made.find((row) => row.name === name) ?? kept?.rows.find((row) => row.name === name) ?? [],
    ),
  };
  writeFileSync(new URL(`${results.date}.json`, folder), `${JSON.stringify(results, null, 2)}\n`);
  const readme = new URL('README.md', root);
  writeFileSync(
    readme,
    readFileSync(readme, 'utf8').replace(
      README_MARKS,
      (_, start: string, end: string) => start + readmeTable(results) + end,
    ),
  );
}

function packageOf(path: string): Record<string, unknown> {
  return JSON.parse(readFileSync(new URL(path, root), 'utf8')) as Record<string, unknown>;
}

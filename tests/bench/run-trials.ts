import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { cpus, totalmem } from 'node:os';
import { fileURLToPath } from 'node:url';
import { TRIALS, type TrialResult } from './trials.ts';

const root = new URL('../../..', import.meta.url);
const only = process.argv[2];
const rows: Record<string, unknown>[] = [];
for (const trial of TRIALS.filter((entry) => !only || entry.name.includes(only))) {
  process.stderr.write(`${trial.name} …\n`);
  const run = spawnSync(
    process.execPath,
    ['--expose-gc', fileURLToPath(new URL(trial.file, import.meta.url)), ...(trial.arguments ?? [])],
    {
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'inherit'],
    },
  );
  const last = run.stdout.trim().split('\n').at(-1) ?? '';
  if (run.status !== 0 || !last.startsWith('{')) {
    process.stderr.write(`  failed with ${run.status}\n`);
    process.exitCode = 1;
    continue;
  }
  const { bare, ours } = JSON.parse(last) as TrialResult;
  const ratio = ours / bare;
  const met =
    trial.wanted === undefined
      ? undefined
      : 'atMost' in trial.wanted
        ? ratio <= trial.wanted.atMost
        : ratio >= trial.wanted.atLeast;
  rows.push({
    name: trial.name,
    bareMeans: trial.bare,
    oursMeans: trial.ours,
    bare,
    ours,
    ratio,
    wanted: trial.wanted,
    met,
  });
  process.stdout.write(
    `${trial.name}: ours ${ours.toPrecision(4)}, bare ${bare.toPrecision(4)}, ratio ${ratio.toPrecision(3)}${met === undefined ? '' : met ? ' (as wanted)' : ` (wanted ${JSON.stringify(trial.wanted)})`}\n`,
  );
}
const version = (JSON.parse(readFileSync(new URL('package.json', root), 'utf8')) as { version: string }).version;
const date = new Date().toISOString().slice(0, 10);
const folder = new URL('tests/bench/results/', root);
mkdirSync(folder, { recursive: true });
const machine = {
  processor: cpus()[0]?.model ?? 'unknown',
  cores: cpus().length,
  memoryGiB: Math.round(totalmem() / 2 ** 30),
  node: process.version,
  platform: `${process.platform} ${process.arch}`,
};
if (!only)
  writeFileSync(new URL(`${date}.json`, folder), `${JSON.stringify({ date, version, machine, rows }, null, 2)}\n`);

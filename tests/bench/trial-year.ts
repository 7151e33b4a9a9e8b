import { execFileSync } from 'node:child_process';
import { rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { COLUMNS_TYPE } from '../../api/contract/column-bytes.ts';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { startProgram } from '../support/program.ts';
import { createTimedClient } from './ask-timed.ts';
import { median, type TrialResult } from './trials.ts';
import {
  benchFolder,
  hourOfMillibars,
  seriesAddress,
  YEAR_END_MS,
  YEAR_HOURS,
  YEAR_START_MS,
  yearStore,
} from './year-store.ts';

/*
 * A year at 1 Hz as 2,000 points: the first request that a fresh program is asked, against a bare reading in a fresh
 * process. `minutes`: of all minute summaries; `rows`: GROUP BY over a SQLite row a sample.
 */
const POINTS = 2_000;
const kind = process.argv[2] === 'rows' ? 'rows' : 'minutes';
/** GROUP BY over a year takes some ten seconds, so it is done less often. */
const RUNS = kind === 'rows' ? 3 : 5;

const shared = benchFolder();
const folder = await yearStore(shared);

function rowTable(): string {
  const path = join(shared, 'rows.db');
  writeFileSync(path, '');
  process.stderr.write('  making a row a sample …\n');
  const database = openPlainFile(path);
  // It may be made again at any time, so nothing waits for the disk.
  database.pragma('synchronous = off');
  database.exec('create table sample (at_ms integer primary key, value integer not null)');
  const insert = database.prepare('insert into sample values (?, ?)');
  const hourIn = database.transaction((hour: number) => {
    const fromMs = YEAR_START_MS + hour * 3_600_000;
    for (const [i, millibar] of hourOfMillibars(hour).entries()) insert.run(fromMs + i * 1_000, millibar);
  });
  for (let hour = 0; hour < YEAR_HOURS; hour++) hourIn(hour);
  database.close();
  return path;
}

const bareArguments =
  kind === 'rows'
    ? [rowTable(), String(YEAR_START_MS), String(Math.ceil((YEAR_END_MS - YEAR_START_MS) / POINTS))]
    : [folder];
const bare: number[] = [];
const ours: number[] = [];
for (let run = 0; run < RUNS; run++) {
  const printed = execFileSync(
    process.execPath,
    [fileURLToPath(new URL('year-bare.js', import.meta.url)), kind, ...bareArguments],
    { encoding: 'utf8' },
  );
  bare.push((JSON.parse(printed) as { ms: number }).ms);
  const program = await startProgram({ folder });
  const client = createTimedClient();
  ours.push((await client.ask(seriesAddress(program.base, YEAR_START_MS, YEAR_END_MS, POINTS), COLUMNS_TYPE)).ms);
  client.end();
  await program.stop();
}
const result: TrialResult = { bare: median(bare), ours: median(ours), raw: { bare, ours } };
if (kind === 'rows') rmSync(bareArguments[0]!, { force: true });
console.log(JSON.stringify(result));

import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { request } from 'node:http';
import { addLogger, addSite } from '../support/api.ts';
import { startProgram } from '../support/program.ts';
import { createTimedClient } from './ask-timed.ts';
import type { TrialResult } from './trials.ts';
import {
  benchFolder,
  hourOfMillibars,
  YEAR_END_MS,
  YEAR_HOURS,
  YEAR_LOGGER,
  YEAR_START_MS,
  yearStore,
} from './year-store.ts';

/*
 * How much memory the program takes more than at rest (Linux: the largest resident set that the kernel saw, less the
 * one before) while a year at 1 Hz leaves it as CSV, or comes.
 */
const kind = process.argv[2] === 'import' ? 'import' : 'export';
const LIMIT_MB = { export: 150, import: 300 } as const;

const program = await startProgram(kind === 'export' ? { folder: await yearStore(benchFolder()) } : {});
const memoryMb = (line: 'VmRSS' | 'VmHWM') => {
  const status = readFileSync(`/proc/${program.process.pid}/status`, 'utf8');
  return Number(new RegExp(`${line}:\\s+(\\d+)`).exec(status)?.[1]) / 1024;
};

async function exportYear(): Promise<number> {
  const client = createTimedClient();
  const span = `from=${new Date(YEAR_START_MS).toISOString()}&to=${new Date(YEAR_END_MS).toISOString()}`;
  const { bytes } = await client.ask(`${program.base}/api/loggers/${YEAR_LOGGER}/series?${span}`, 'text/csv');
  client.end();
  return bytes;
}

async function importYear(): Promise<number> {
  await addLogger(program.base, await addSite(program.base), YEAR_LOGGER);
  const address = `${program.base}/api/loggers/${YEAR_LOGGER}/import?value=pressure_bar`;
  const sent = request(address, { method: 'POST', headers: { 'content-type': 'text/csv' } });
  const answered = once(sent, 'response');
  sent.write('time,pressure_bar\n');
  let bytes = 0;
  for (let hour = 0; hour < YEAR_HOURS; hour++) {
    const lines = Array.from(hourOfMillibars(hour), (millibar, i) => {
      const at = new Date(YEAR_START_MS + (hour * 3_600 + i) * 1_000).toISOString();
      return `${at.slice(0, 19)}Z,${millibar / 1_000}\n`;
    }).join('');
    bytes += lines.length;
    if (!sent.write(lines)) await once(sent, 'drain');
  }
  sent.end();
  const [answer] = await answered;
  let text = '';
  for await (const chunk of answer) text += String(chunk);
  const { stored } = JSON.parse(text) as { stored?: number };
  if (stored !== YEAR_HOURS * 3_600) throw new Error(`the import answered ${text.slice(0, 500)}`);
  return bytes;
}

const atRest = memoryMb('VmRSS');
const started = performance.now();
const bytes = await (kind === 'export' ? exportYear() : importYear());
const seconds = (performance.now() - started) / 1_000;
const most = memoryMb('VmHWM');
await program.stop();
const raw = { atRestMb: [atRest], mostMb: [most], seconds: [seconds], megabytes: [bytes / 1e6] };
const result: TrialResult = { bare: LIMIT_MB[kind], ours: most - atRest, raw };
console.log(JSON.stringify(result));

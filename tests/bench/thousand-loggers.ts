import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { systemClock } from '../../api/system-clock.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { startProgram, temporaryFolder } from '../support/program.ts';
import type { FleetAccount } from './fleet-publisher.ts';
import { BENCH_KEY, benchLogger } from './intake-publisher.ts';
import type { TrialResult } from './trials.ts';

/*
 * The real program with a thousand loggers at one reading a second, published from another process. Short by default;
 * `SECONDS=600 node thousand-loggers.js` takes ten minutes. Fails where anything was refused or lost; what was
 * late is told: on a machine that does other work too, that is not the program's doing alone.
 */

const LOGGERS = Number(process.env['LOGGERS'] ?? 1000);
const SECONDS = Number(process.env['SECONDS'] ?? 30);
/** What is asked for: half of one core, and this much resident memory. */
const CORES = 0.5;
const RESIDENT_MB = 200;
/** Linux counts processor time in hundredths of a second (proc(5), sysconf(_SC_CLK_TCK)). */
const TICKS_A_SECOND = 100;

async function makeLoggers(folder: string): Promise<void> {
  const store = await openSqliteStore({ folder, clock: systemClock });
  const keySha256 = createHash('sha256').update(BENCH_KEY).digest('hex');
  for (let number = 0; number < LOGGERS; number++) {
    const id = benchLogger(number);
    await store.putLogger({ id, createdMs: Date.now(), keySha256 });
    await store.addChannelSetting({ loggerId: id, channel: 'pressure', fromMs: 0, unit: 'bar' });
  }
  await store.close();
}

/** Seconds of processor time that all threads of the process have used. */
function cpuSeconds(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]!.split(' ');
  return (Number(fields[11]) + Number(fields[12])) / TICKS_A_SECOND;
}

function residentMb(pid: number, line: 'VmRSS' | 'VmHWM'): number {
  const found = new RegExp(`^${line}:\\s+(\\d+) kB`, 'm').exec(readFileSync(`/proc/${pid}/status`, 'utf8'));
  return Number(found?.[1]) / 1024;
}

async function counter(base: string, name: string): Promise<number> {
  const text = await (await fetch(`${base}/metrics`)).text();
  return Number(new RegExp(`^${name} (\\S+)$`, 'm').exec(text)?.[1]);
}

const folder = temporaryFolder();
await makeLoggers(folder);
const program = await startProgram({ folder });
const pid = program.process.pid!;
const publisher = spawn(
  process.execPath,
  [fileURLToPath(new URL('fleet-publisher.js', import.meta.url)), ...[program.mqttPort, LOGGERS, SECONDS].map(String)],
  { stdio: ['ignore', 'pipe', 'inherit'] },
);
let said = '';
const connected = new Promise<void>((resolve, reject) => {
  publisher.stdout.on('data', (chunk: Buffer) => {
    said += chunk.toString();
    if (said.includes('connected\n')) resolve();
  });
  publisher.once('exit', () => reject(new Error('the publisher ended before it was connected')));
});
const finished = new Promise<void>((resolve) => publisher.once('close', () => resolve()));
await connected;
const cpuBefore = cpuSeconds(pid);
const startedMs = performance.now();
const resident: number[] = [];
const watch = setInterval(() => resident.push(residentMb(pid, 'VmRSS')), 1000);
await finished;
clearInterval(watch);
const cores = (cpuSeconds(pid) - cpuBefore) / ((performance.now() - startedMs) / 1000);
const account = JSON.parse(said.trim().split('\n').at(-1)!) as FleetAccount;
const stored = await counter(program.base, 'mainsdiary_samples_stored_total');
const refused = await counter(program.base, 'mainsdiary_entries_refused_total');
const peakMb = residentMb(pid, 'VmHWM');
const code = await program.stop();
const largestMb = Math.max(...resident);
process.stderr.write(
  `${LOGGERS} loggers, ${SECONDS} s: ${cores.toFixed(3)} cores, resident at most ${largestMb.toFixed(0)} MB of ${RESIDENT_MB} ` +
    `(ever ${peakMb.toFixed(0)}), ${account.sent} sent, ${account.acknowledged} acknowledged, ${stored} stored, ` +
    `${refused} refused, ${account.late} late, ${account.cut} cut off, acknowledged after ${account.medianMs.toFixed(1)} ms ` +
    `(median), ${account.worstMs.toFixed(0)} ms (worst)\n`,
);
if (code !== 0 || account.acknowledged !== account.sent || stored !== account.sent || refused > 0 || account.cut > 0)
  throw new Error('something was refused or lost');
const result: TrialResult = { bare: CORES, ours: cores };
console.log(JSON.stringify(result));
process.exit(0);

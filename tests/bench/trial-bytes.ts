import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { systemClock } from '../../api/system-clock.ts';
import { SAMPLE_FLAG } from '../../collector/model/series.ts';
import { holdDataFolder } from '../../collector/store/data-folder.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import type { TrialResult } from './trials.ts';

/*
 * Eight weeks of one logger at 1 Hz: a main near 4.2 bar with its curve of the day, a slow wander and white noise of
 * 5 mbar, in steps of 1 mbar. `converter`: read by a 10-bit converter over 0 to 10 bar. `arrival`: bare numbers, each
 * stamped when it came, 3 ms (one standard deviation) around a clock of its own that runs 40 ppm fast; one in a
 * thousand waits some 50 ms longer. Counted is the whole data folder after a clean stop.
 */
const CASES = ['noise', 'converter', 'arrival'] as const;
const asked = CASES.find((name) => name === process.argv[2]) ?? 'noise';
const HOURS = 8 * 7 * 24;
const HOUR_MS = 3_600_000;
const START_MS = Date.UTC(2026, 4, 4);
const NOISE_MBAR = 5;
const CONVERTER_STEPS = 2 ** 10 - 1;
const RANGE_MBAR = 10_000;
const JITTER_MS = 3;
const CLOCK_RUNS_FAST = 40e-6;
/** Bytes of a SQLite row of time and whole millibars, as measured over a year of them. */
const ROW_BYTES = 17.2;

/** Park and Miller 1988, "minimal standard". */
let state = 12345;
const random = () => {
  state = (state * 48_271) % 2_147_483_647;
  return state / 2_147_483_647;
};
/** Box and Muller 1958. */
const normal = () => Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());

const keep = Math.exp(-1 / 600);
let wander = 0;
function nextMbar(second: number): number {
  wander = wander * keep + 20 * Math.sqrt(1 - keep * keep) * normal();
  const mbar = 4200 + 250 * Math.sin(2 * Math.PI * (second / 86_400 - 0.1)) + wander + NOISE_MBAR * normal();
  if (asked !== 'converter') return Math.round(mbar);
  return Math.round((Math.round((mbar / RANGE_MBAR) * CONVERTER_STEPS) * RANGE_MBAR) / CONVERTER_STEPS);
}

let lastMs = 0;
function timeOf(second: number): number {
  if (asked !== 'arrival') return START_MS + second * 1000;
  const late = random() < 0.001 ? 50 * random() : 0;
  const dueMs = START_MS + second * 1000 * (1 - CLOCK_RUNS_FAST) + 20 + JITTER_MS * normal() + late;
  lastMs = Math.max(lastMs + 1, Math.round(dueMs));
  return lastMs;
}

const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-bytes-'));
const hold = holdDataFolder(folder);
const store = await openSqliteStore({ folder, clock: systemClock });
await store.putLogger({ id: 'front-hall', createdMs: START_MS, keySha256: '0'.repeat(64) });
for (let hour = 0; hour < HOURS; hour++) {
  const timeMs = new Float64Array(3600);
  const value = new Float64Array(3600);
  for (let i = 0; i < 3600; i++) {
    timeMs[i] = timeOf(hour * 3600 + i);
    value[i] = nextMbar(hour * 3600 + i) / 1000;
  }
  const flags = asked === 'arrival' ? new Uint8Array(3600).fill(SAMPLE_FLAG.timeOfArrival) : undefined;
  const arrivedMs = timeMs.at(-1)! + 20;
  await store.store([{ loggerId: 'front-hall', channel: 'pressure', unit: 'bar', arrivedMs, timeMs, value, flags }]);
  await store.seal(START_MS + hour * HOUR_MS, 1000);
}
while ((await store.seal(Date.now(), 1000)) > 0);
const { count } = (await store.extent('front-hall', 'pressure'))!;
if (count !== HOURS * 3600) throw new Error(`${count} samples are there`);
await store.close();
hold.release();
const bytes = readdirSync(folder).reduce((sum, name) => sum + statSync(join(folder, name)).size, 0);
rmSync(folder, { recursive: true });
const result: TrialResult = { bare: ROW_BYTES, ours: bytes / count };
console.log(JSON.stringify(result));

import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { systemClock } from '../../api/system-clock.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';

export const YEAR_START_MS = Date.UTC(2025, 0, 1);
export const YEAR_HOURS = 365 * 24;
export const YEAR_END_MS = YEAR_START_MS + YEAR_HOURS * 3_600_000;
export const YEAR_LOGGER = 'front-hall';

let state = 12_345;
/** Park and Miller 1988, "minimal standard". */
function random(): number {
  state = (state * 48_271) % 2_147_483_647;
  return state / 2_147_483_647;
}

/** One hour of whole millibars at 1 Hz: a slow wave and noise of 5 mbar (the sum of three uniform ones). */
export function hourOfMillibars(hour: number): Int32Array {
  return Int32Array.from({ length: 3_600 }, (_, i) =>
    Math.round(2_000 + 200 * Math.sin((hour * 3_600 + i) / 20_000) + 10 * (random() + random() + random() - 1.5)),
  );
}

/** The folder that the trials of one run share (BENCH_FOLDER), else one of this process, removed with it. */
export function benchFolder(): string {
  const shared = process.env['BENCH_FOLDER'];
  if (shared) return shared;
  const own = mkdtempSync(join(tmpdir(), 'mainsdiary-bench-'));
  process.once('exit', () => rmSync(own, { recursive: true, force: true }));
  return own;
}

/** A sealed year of one logger at 1 Hz as a data folder; made where it isn't there yet. */
export async function yearStore(shared: string): Promise<string> {
  const folder = join(shared, 'year');
  if (existsSync(join(shared, 'year-is-whole'))) return folder;
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder, { recursive: true });
  process.stderr.write('  making a year at 1 Hz …\n');
  const store = await openSqliteStore({ folder, clock: systemClock });
  await store.putLogger({ id: YEAR_LOGGER, createdMs: YEAR_START_MS, keySha256: '0'.repeat(64) });
  await store.addChannelSetting({ loggerId: YEAR_LOGGER, channel: 'pressure', fromMs: 0, unit: 'bar' });
  for (let hour = 0; hour < YEAR_HOURS; hour++) {
    const fromMs = YEAR_START_MS + hour * 3_600_000;
    const timeMs = Float64Array.from({ length: 3_600 }, (_, i) => fromMs + i * 1_000);
    const value = Float64Array.from(hourOfMillibars(hour), (millibar) => millibar / 1_000);
    const arrivedMs = fromMs + 3_601_000;
    await store.store([{ loggerId: YEAR_LOGGER, channel: 'pressure', unit: 'bar', arrivedMs, timeMs, value }]);
    if (hour % 240 === 239) while ((await store.seal(Date.now(), 1_000)) > 0);
  }
  while ((await store.seal(Date.now(), 1_000)) > 0);
  await store.close();
  writeFileSync(join(shared, 'year-is-whole'), '');
  return folder;
}

/** The address of a series of that year. */
export function seriesAddress(base: string, fromMs: number, toMs: number, points: number): string {
  const span = `from=${new Date(fromMs).toISOString()}&to=${new Date(toMs).toISOString()}`;
  return `${base}/api/loggers/${YEAR_LOGGER}/series?${span}&points=${points}`;
}

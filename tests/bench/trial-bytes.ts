import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { systemClock } from '../../api/system-clock.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import type { TrialResult } from './trials.ts';

const HOURS = 7 * 24;
const START_MS = Date.UTC(2026, 4, 4);
const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-bytes-'));
let state = 12345;
const random = () => {
  state = (state * 48271) % 2147483647;
  return state / 2147483647;
};
const store = await openSqliteStore({ folder, clock: systemClock });
await store.putLogger({ id: 'front-hall', createdMs: START_MS, keySha256: '0'.repeat(64) });
for (let hour = 0; hour < HOURS; hour++) {
  const timeMs = Float64Array.from({ length: 3600 }, (_, second) => START_MS + (hour * 3600 + second) * 1000);
  const value = timeMs.map((_, second) => {
    // Box and Muller: normal noise of 5 mbar.
    const noise = Math.sqrt(-2 * Math.log(random() || 1e-9)) * Math.cos(2 * Math.PI * random());
    return Math.round(2000 + 200 * Math.sin((hour * 3600 + second) / 20_000) + 5 * noise) / 1000;
  });
  await store.store([
    { loggerId: 'front-hall', channel: 'pressure', unit: 'bar', arrivedMs: timeMs.at(-1)! + 1000, timeMs, value },
  ]);
}
while ((await store.seal(Date.now(), 1000)) > 0);
await store.close();
const bytes = readdirSync(folder).reduce((sum, name) => sum + statSync(join(folder, name)).size, 0);
rmSync(folder, { recursive: true });
const result: TrialResult = { bare: 17.2, ours: bytes / (HOURS * 3600) };
console.log(JSON.stringify(result));

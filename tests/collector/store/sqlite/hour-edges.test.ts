import { afterEach, beforeEach, expect, test } from 'vitest';
import { createHourEdges } from '../../../../collector/store/sqlite/hour-edges.ts';
import { openDatabase } from '../../../../collector/store/sqlite/open-database.ts';
import { storeOver } from '../../../../collector/store/sqlite/open-store.ts';
import { HOUR_MS, START_MS, scratchFolder, sealAll, standingClock, steadyPiece, waveBar } from '../store-under-test.ts';

let scratch: ReturnType<typeof scratchFolder>;
beforeEach(() => {
  scratch = scratchFolder();
});
afterEach(() => scratch.remove());

const FIRST_HOUR = START_MS / HOUR_MS;

test.each([
  ['one after the other', 1, false],
  ['by turns with eleven others', 12, true],
])('a summary by the hour is that of its samples where channels were sealed %s', async (_name, loggers, scattered) => {
  const database = openDatabase(`${scratch.folder}/samples.db`);
  const store = storeOver(database, standingClock());
  for (let hour = 0; hour < 30; hour++) {
    for (let i = 0; i < loggers; i++)
      await store.store([steadyPiece(hour * HOUR_MS, 60, { loggerId: `logger-${i}`, stepMs: 60_000 })]);
    await sealAll(store, START_MS + (hour + 2) * HOUR_MS);
  }
  const key = { logger: 1, channel: 1 };
  expect(createHourEdges(database).scattered(key, FIRST_HOUR, FIRST_HOUR + 30)).toBe(scattered);
  const [one] = await store.summaries('logger-0', 'pressure', START_MS, START_MS + 30 * HOUR_MS, 'hour');
  expect(one!.summary.startMs).toHaveLength(30);
  for (let hour = 0; hour < 30; hour++) {
    const samples = Array.from({ length: 60 }, (_, i) => waveBar(hour * HOUR_MS + i * 60_000));
    expect(one!.summary.min[hour]).toBe(Math.min(...samples));
    expect(one!.summary.max[hour]).toBe(Math.max(...samples));
    expect(one!.summary.mean[hour]).toBeCloseTo(samples.reduce((a, b) => a + b, 0) / 60, 10);
    expect(one!.summary.count[hour]).toBe(60);
  }
  await store.close();
});

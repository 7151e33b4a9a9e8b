import { afterAll, beforeAll, expect, it } from 'vitest';
import type { SummarySeries } from '../../../../collector/model/series.ts';
import { DEFAULT_THRESHOLDS } from '../../../../collector/model/site.ts';
import type { Store } from '../../../../collector/store/port.ts';
import { openSqliteStore } from '../../../../collector/store/sqlite/open-store.ts';
import { temporaryFolder } from '../../../api/http/running-server.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const START_MS = Date.UTC(2026, 2, 1);
const DAYS = 20;
let nowMs = START_MS;
let store: Store;

/** An hour of samples, one in ten seconds, each hour with a shape of its own. */
async function storeHour(hour: number, unit = 'bar', count = 360) {
  const timeMs = Float64Array.from({ length: count }, (_, i) => START_MS + hour * HOUR_MS + i * 10_000);
  const value = timeMs.map((_, i) => Math.round(2_000 + 300 * Math.sin(hour) + ((i * 7) % 13)) / 1_000);
  await store.store([{ loggerId: 'front-hall', channel: 'pressure', unit, arrivedMs: nowMs, timeMs, value }]);
}

beforeAll(async () => {
  store = await openSqliteStore({ folder: temporaryFolder(), clock: { nowMs: () => nowMs } });
  await store.putLogger({ id: 'front-hall', createdMs: START_MS, keySha256: '0'.repeat(64) });
  // Whole days, a gap of days, an hour of two units, a day of another unit.
  for (let hour = 0; hour < DAYS * 24; hour++) {
    const day = Math.floor(hour / 24);
    if (day >= 7 && day < 9) continue;
    await storeHour(hour, day === 12 ? 'psi' : 'bar', hour === 100 ? 180 : 360);
  }
  const timeMs = Float64Array.from({ length: 60 }, (_, i) => START_MS + 100 * HOUR_MS + 1_800_000 + i * 10_000);
  const value = timeMs.map((_, i) => 30 + i / 100);
  await store.store([{ loggerId: 'front-hall', channel: 'pressure', unit: 'psi', arrivedMs: nowMs, timeMs, value }]);
  nowMs = START_MS + (DAYS + 1) * DAY_MS;
  while ((await store.seal(nowMs, 1_000)) > 0);
  // Late samples in a sealed hour and a newest hour: both wait in the tail.
  const late = Float64Array.from({ length: 30 }, (_, i) => START_MS + 30 * HOUR_MS + 5_000 + i * 10_000);
  await store.store([
    {
      loggerId: 'front-hall',
      channel: 'pressure',
      unit: 'bar',
      arrivedMs: nowMs,
      timeMs: late,
      value: late.map(() => 0.1),
    },
  ]);
  await storeHour(DAYS * 24);
}, 60_000);
afterAll(() => store.close());

/** What minutes say about their hours, added up here as plainly as can be. */
function byHour(minutes: readonly { unit: string; summary: SummarySeries }[]) {
  const hours = new Map<string, { min: number; max: number; sum: number; count: number }>();
  for (const { unit, summary } of minutes)
    summary.startMs.forEach((startMs, i) => {
      const key = `${Math.floor(startMs / HOUR_MS)} ${unit}`;
      const seen = hours.get(key) ?? { min: summary.min[i]!, max: summary.max[i]!, sum: 0, count: 0 };
      seen.min = Math.min(seen.min, summary.min[i]!);
      seen.max = Math.max(seen.max, summary.max[i]!);
      seen.sum += summary.mean[i]! * summary.count[i]!;
      seen.count += summary.count[i]!;
      hours.set(key, seen);
    });
  return hours;
}

it.each([
  ['all of it', 0, (DAYS + 1) * DAY_MS],
  ['a part with the hour of two units and the late samples', 25 * HOUR_MS, 101 * HOUR_MS],
  ['the days without a sample', 7 * DAY_MS, 9 * DAY_MS],
  ['decades around it', -20 * 365 * DAY_MS, 20 * 365 * DAY_MS],
])('hours say what their minutes say: %s', async (_, fromMs, toMs) => {
  const read = (level: 'minute' | 'hour') =>
    store.summaries('front-hall', 'pressure', START_MS + fromMs, START_MS + toMs, level);
  const fromMinutes = byHour(await read('minute'));
  const hours = await read('hour');
  for (const { summary } of hours) expect([...summary.startMs]).toEqual([...summary.startMs].sort((a, b) => a - b));
  const fromHours = byHour(hours);
  expect([...fromHours.keys()].sort()).toEqual([...fromMinutes.keys()].sort());
  for (const [key, { min, max, sum, count }] of fromMinutes) {
    const seen = fromHours.get(key)!;
    expect([seen.min, seen.max, seen.count], key).toEqual([min, max, count]);
    expect(seen.sum, key).toBeCloseTo(sum, 6);
  }
});

it('hours whose samples were erased keep what their minutes say', async () => {
  const read = (level: 'minute' | 'hour') =>
    store.summaries('front-hall', 'pressure', START_MS, START_MS + (DAYS + 1) * DAY_MS, level);
  const before = byHour(await read('hour'));
  await store.putSite({
    id: 'sample-row',
    name: '12 Sample Row',
    timeZone: 'Europe/London',
    createdMs: START_MS,
    keepRawDays: 10,
    thresholds: DEFAULT_THRESHOLDS,
    invented: false,
  });
  await store.addPlacement({
    loggerId: 'front-hall',
    siteId: 'sample-row',
    position: 'incoming',
    fromMs: 0,
    heightAboveSupplyPointM: 0,
  });
  while ((await store.seal(nowMs, 1_000)) > 0);
  while (await store.eraseAged(nowMs, 1_000));
  const erased = await store.erasedSpans('front-hall', 'pressure', START_MS, nowMs);
  expect(erased.length).toBeGreaterThan(0);
  const after = byHour(await read('hour'));
  expect([...after.keys()].sort()).toEqual([...before.keys()].sort());
  for (const [key, { min, max, count }] of before) {
    const seen = after.get(key)!;
    expect([seen.min, seen.max, seen.count], key).toEqual([min, max, count]);
  }
});

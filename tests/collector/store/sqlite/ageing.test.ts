import { statSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { DEFAULT_THRESHOLDS } from '../../../../collector/model/site.ts';
import { convertedSummaries } from '../../../../collector/store/converted.ts';
import { DAY_MS } from '../../../../collector/store/hours.ts';
import type { Store } from '../../../../collector/store/port.ts';
import { openDatabase } from '../../../../collector/store/sqlite/open-database.ts';
import { openSqliteStore, STORE_FILE } from '../../../../collector/store/sqlite/open-store.ts';
import { createRecordUpkeep } from '../../../../collector/store/sqlite/record-upkeep.ts';
import {
  collectRuns,
  HOUR_MS,
  piece,
  START_MS,
  samplesOf,
  scratchFolder,
  sealAll,
  standingClock,
  steadyPiece,
} from '../store-under-test.ts';

let scratch: ReturnType<typeof scratchFolder>;
let store: Store;
const clock = standingClock(START_MS + 40 * DAY_MS);
const open = () => openSqliteStore({ folder: scratch.folder, clock });

beforeEach(async () => {
  scratch = scratchFolder();
  store = await open();
});
afterEach(async () => {
  await store.close();
  scratch.remove();
});

async function placeAt(siteId: string, keepRawDays: number | undefined, fromMs = 0): Promise<void> {
  const site = { id: siteId, name: '12 Sample Row', timeZone: 'UTC', createdMs: 0, invented: true };
  await store.putSite({ ...site, thresholds: DEFAULT_THRESHOLDS, keepRawDays });
  const place = { siteId, position: 'incoming', heightAboveSupplyPointM: 0 } as const;
  await store.addPlacement({ loggerId: 'front-hall', fromMs, ...place });
}

async function ageAll(nowMs: number, budgetMs = 1000): Promise<number> {
  let turns = 1;
  while (await store.eraseAged(nowMs, budgetMs)) turns++;
  return turns;
}

const check = () => createRecordUpkeep(scratch.folder).check(() => undefined);
const minutes = () => store.summaries('front-hall', 'pressure', 0, START_MS + 365 * DAY_MS, 'minute');
/** Ten days, a sample a minute at second 7. */
const tenDays = () =>
  store.store(Array.from({ length: 240 }, (_, hour) => steadyPiece(hour * HOUR_MS + 7000, 60, { stepMs: 60_000 })));

describe('samples older than their site keeps them', () => {
  test('go, hour by hour, and their minutes, extent, newest sample and count stay', async () => {
    await placeAt('row-12', 4);
    await tenDays();
    await sealAll(store);
    const [before, extent, latest] = [
      await minutes(),
      await store.extent('front-hall', 'pressure'),
      await store.latest(['front-hall']),
    ];
    const nowMs = START_MS + 10 * DAY_MS;
    await ageAll(nowMs);
    const cutMs = START_MS + 6 * DAY_MS;
    const left = await samplesOf(store);
    expect(left.length).toBe(4 * 1440);
    expect(left[0]![0]).toBe(6 * DAY_MS + 7000);
    expect(await minutes()).toEqual(before);
    expect(await store.extent('front-hall', 'pressure')).toEqual(extent);
    expect(await store.latest(['front-hall'])).toEqual(latest);
    expect(await store.erasedSpans('front-hall', 'pressure', 0, 4e12)).toEqual([
      { fromMs: START_MS, toMs: cutMs, count: 6 * 1440 },
    ]);
    expect(await store.erasedSpans('front-hall', 'pressure', cutMs, 4e12)).toEqual([]);
    expect((await check()).faults).toEqual([]);
    // What is due later joins the span that is there.
    await ageAll(nowMs + 5 * HOUR_MS);
    expect(await store.erasedSpans('front-hall', 'pressure', 0, 4e12)).toEqual([
      { fromMs: START_MS, toMs: cutMs + 5 * HOUR_MS, count: 6 * 1440 + 300 },
    ]);
    await store.close();
    store = await open();
    expect((await samplesOf(store)).length).toBe(4 * 1440 - 300);
    expect((await check()).faults).toEqual([]);
  });

  test('stay where no site sets an age, where the logger stands in nobody’s house, and at a site it was moved to', async () => {
    await tenDays();
    await sealAll(store);
    await ageAll(clock.nowMs());
    expect((await samplesOf(store)).length).toBe(14_400);
    await placeAt('row-12', undefined);
    await ageAll(clock.nowMs());
    expect((await samplesOf(store)).length).toBe(14_400);
    await placeAt('row-14', 1, START_MS + 2 * DAY_MS + 1_800_000);
    await placeAt('row-16', undefined, START_MS + 5 * DAY_MS);
    await ageAll(clock.nowMs());
    expect(await store.erasedSpans('front-hall', 'pressure', 0, 4e12)).toEqual([
      { fromMs: START_MS + 2 * DAY_MS + HOUR_MS, toMs: START_MS + 5 * DAY_MS, count: 71 * 60 },
    ]);
  });

  test('go in turns of a bounded time; what was gone at the end of a turn stays gone', async () => {
    await placeAt('row-12', 4);
    await tenDays();
    await sealAll(store);
    expect(await ageAll(clock.nowMs(), 0)).toBeGreaterThan(200);
    expect(await samplesOf(store)).toEqual([]);
    expect((await check()).faults).toEqual([]);
  });

  test('of a file imported later go too, once it is sealed, and keep their minutes', async () => {
    await placeAt('row-12', 4);
    await store.store([steadyPiece(0, 3600)]);
    await ageAll(clock.nowMs());
    expect((await samplesOf(store)).length).toBe(3600);
    await sealAll(store);
    await ageAll(clock.nowMs());
    expect(await samplesOf(store)).toEqual([]);
    expect((await minutes())[0]!.summary.count.reduce((a, b) => a + b, 0)).toBe(3600);
  });

  test('that come late for an erased hour are told as such and never take the place of its minutes', async () => {
    await placeAt('row-12', 4);
    await tenDays();
    await sealAll(store);
    await ageAll(clock.nowMs());
    const before = await minutes();
    const outcomes = await store.store([
      piece([
        [30_000, 9],
        [7000, 3],
        [-5000, 2],
      ]),
      steadyPiece(11 * DAY_MS, 5),
    ]);
    expect(outcomes).toEqual([
      { stored: 1, duplicate: 0, conflict: 0, erased: 2 },
      { stored: 5, duplicate: 0, conflict: 0 },
    ]);
    await sealAll(store);
    const after = await minutes();
    expect(after[0]!.summary.min.slice(1, -1)).toEqual(before[0]!.summary.min);
    expect((await check()).faults).toEqual([]);
  });

  test('stay where their minutes don’t tell of as many, or where they can’t be unpacked', async () => {
    await placeAt('row-12', 4);
    await tenDays();
    await sealAll(store);
    await store.close();
    const database = openDatabase(join(scratch.folder, STORE_FILE));
    database.prepare('delete from day_summary where day = (select min(day) from day_summary)').run();
    database.prepare("update block_payload set part = x'0900' where id / 1024 = (select max(id) from block)").run();
    database.close();
    store = await open();
    await ageAll(clock.nowMs());
    const left = await collectRuns(store, 'front-hall', 'pressure', START_MS, START_MS + 9 * DAY_MS);
    expect(left.reduce((sum, run) => sum + run.timeMs.length, 0)).toBe(1440);
    expect((await check()).faultCount).toBe(24 + 1);
  });

  test('change the digest of the span, so that nothing made of them is taken for new', async () => {
    await placeAt('row-12', 4);
    await tenDays();
    await sealAll(store);
    const digest = (fromDay: number, toDay: number) =>
      store.spanDigest('front-hall', 'pressure', START_MS + fromDay * DAY_MS, START_MS + toDay * DAY_MS);
    const [early, late, empty] = [await digest(0, 3), await digest(7, 9), await digest(20, 23)];
    await ageAll(START_MS + 10 * DAY_MS);
    expect(await digest(0, 3)).not.toBe(early);
    expect(await digest(0, 3)).not.toBe(empty);
    expect(await digest(7, 9)).toBe(late);
    const again = await digest(0, 3);
    await ageAll(START_MS + 11 * DAY_MS);
    expect(await digest(0, 3)).toBe(again);
  });

  test('are read by their minutes where a calibration begins inside one', async () => {
    await placeAt('row-12', 4);
    await store.store([
      piece([
        [0, 1],
        [20_000, 2],
        [40_000, 3],
        [60_000, 4],
      ]),
    ]);
    const calibration = { loggerId: 'front-hall', channel: 'pressure', gain: 1, offset: 0.5, note: '' } as const;
    await store.addCalibration({ ...calibration, fromMs: START_MS + 30_000, standardUncertainty: 0.01 });
    await sealAll(store);
    await ageAll(clock.nowMs());
    const read = await convertedSummaries(store, 'front-hall', 'pressure', START_MS, START_MS + HOUR_MS, 'minute');
    expect({ min: [...read.min], max: [...read.max], count: [...read.count] }).toEqual({
      min: [1, 4.5],
      max: [3, 4.5],
      count: [3, 1],
    });
  });
});

describe('erasing a site or a logger', () => {
  test('takes the minutes that were kept beyond the samples', async () => {
    await placeAt('row-12', 4);
    await placeAt('row-14', 1, START_MS + 2 * DAY_MS + 90_000);
    await tenDays();
    await sealAll(store);
    await ageAll(clock.nowMs());
    await store.eraseSite('row-14');
    const kept = (await minutes())[0]!.summary;
    expect(kept.count.length).toBe(2 * 1440 + 1);
    expect(await store.extent('front-hall', 'pressure')).toMatchObject({ firstMs: START_MS + 7000, count: 2881 });
    expect((await store.latest(['front-hall']))[0]).toMatchObject({ unit: 'bar', value: kept.mean.at(-1) });
    expect((await check()).faults).toEqual([]);
    await store.eraseLogger('front-hall');
    expect(await minutes()).toEqual([]);
    expect(await store.erasedSpans('front-hall', 'pressure', 0, 4e12)).toEqual([]);
    expect((await store.weights()).size).toBe(0);
    expect((await check()).faults).toEqual([]);
  });
});

async function emptyFileBytes(): Promise<number> {
  const other = scratchFolder();
  await (await openSqliteStore({ folder: other.folder, clock })).close();
  const bytes = statSync(join(other.folder, STORE_FILE)).size;
  other.remove();
  return bytes;
}

describe('the weight of a logger', () => {
  test('is kept running: what is sealed, sealed anew, erased by age', async () => {
    await placeAt('row-12', 4);
    for (let hour = 0; hour < 240; hour++) {
      await store.store([steadyPiece(hour * HOUR_MS, 3600)]);
      await sealAll(store);
    }
    await store.store([piece([[500, 9.5]])]);
    await sealAll(store);
    const told = async (nowMs: number) => {
      clock.now = nowMs;
      await store.close();
      store = await open();
      return { weight: (await store.weights()).get('front-hall')!, health: await store.health() };
    };
    const empty = await emptyFileBytes();
    const { weight, health } = await told(START_MS + 10 * DAY_MS + HOUR_MS);
    const grown = statSync(join(scratch.folder, STORE_FILE)).size - empty;
    // The rest is half-filled pages.
    expect(weight.bytes / grown).toBeGreaterThan(0.8);
    expect(weight.bytes / grown).toBeLessThan(1.15);
    expect(weight.bytesPerDay! / (weight.bytes / 10)).toBeCloseTo(1, 1);
    expect(health.bytesPerDay).toBe(weight.bytesPerDay);
    expect(health.freeBytes).toBeGreaterThan(0);
    // With two whole days in the last seven the mean is theirs.
    const early = await told(START_MS + 15 * DAY_MS + HOUR_MS);
    expect(early.weight.bytesPerDay! / (weight.bytes / 10)).toBeCloseTo(2 / 7, 1);
    await ageAll(START_MS + 40 * DAY_MS);
    const aged = await told(START_MS + 40 * DAY_MS);
    expect(aged.weight.bytes / weight.bytes).toBeLessThan(0.15);
    expect(aged.weight.bytesPerDay).toBeUndefined();
    await store.eraseLogger('front-hall');
    expect((await told(START_MS + 41 * DAY_MS)).health.bytesPerDay).toBeUndefined();
  });

  test('is found for a store that an earlier version wrote', async () => {
    for (let hour = 0; hour < 50; hour++) await store.store([steadyPiece(hour * HOUR_MS, 3600)]);
    await sealAll(store);
    const told = await store.weights();
    await store.close();
    const database = openDatabase(join(scratch.folder, STORE_FILE));
    // As the first step of the schema left it.
    database.exec('drop table erased_span; drop table weight; pragma user_version = 1');
    database.close();
    store = await open();
    expect(await store.weights()).toEqual(told);
    expect((await samplesOf(store)).length).toBe(50 * 3600);
    expect((await check()).faults).toEqual([]);
  });
});

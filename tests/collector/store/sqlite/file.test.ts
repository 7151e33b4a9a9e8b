import { closeSync, openSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { MIGRATIONS, migrate } from '../../../../collector/store/sqlite/migrations.ts';
import { openDatabase } from '../../../../collector/store/sqlite/open-database.ts';
import { openSqliteStore, STORE_FILE, storeOver } from '../../../../collector/store/sqlite/open-store.ts';
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
let path: string;
beforeEach(() => {
  scratch = scratchFolder();
  path = join(scratch.folder, STORE_FILE);
});
afterEach(() => scratch.remove());

const open = () => openSqliteStore({ folder: scratch.folder, clock: standingClock() });

describe('the file', () => {
  test('has pages that blocks fit, a write-ahead log, full synchronisation and a check of references', () => {
    const database = openDatabase(path);
    const pragma = (name: string) => database.pragma(name, { simple: true });
    expect(pragma('page_size')).toBe(16_384);
    expect(pragma('journal_mode')).toBe('wal');
    expect(pragma('synchronous')).toBe(2);
    expect(pragma('foreign_keys')).toBe(1);
    expect(pragma('user_version')).toBe(MIGRATIONS.length);
    database.close();
  });

  test('that is cut short or no database is told as damaged, with what to do', async () => {
    const store = await open();
    for (let hour = 0; hour < 30; hour++) await store.store([steadyPiece(hour * HOUR_MS, 3600)]);
    await sealAll(store);
    await store.close();
    truncateSync(path, statSync(path).size - 32_768);
    await expect(open()).rejects.toMatchObject({ code: 'store_corrupt', hint: /restore/ });
    writeFileSync(path, 'this is a letter, not a database'.repeat(1000));
    await expect(open()).rejects.toMatchObject({ code: 'store_corrupt' });
  });

  test('of another program or of a newer version is left alone', async () => {
    const database = openDatabase(path);
    database.pragma('application_id = 1');
    database.close();
    await expect(open()).rejects.toMatchObject({ code: 'store_corrupt', message: /another program/ });
    rmSync(path);
    const newer = openDatabase(path);
    newer.pragma(`user_version = ${MIGRATIONS.length + 1}`);
    newer.close();
    await expect(open()).rejects.toMatchObject({ code: 'store_newer' });
  });

  test('in a place where no file can be is a Problem', async () => {
    writeFileSync(join(scratch.folder, 'file'), '');
    await expect(
      openSqliteStore({ folder: join(scratch.folder, 'file'), clock: standingClock() }),
    ).rejects.toMatchObject({ code: 'store_unavailable' });
  });

  test('can be read by a second opener that writes nothing', async () => {
    const store = await open();
    await store.store([steadyPiece(0, 4000)]);
    const reader = await openSqliteStore({ folder: scratch.folder, clock: standingClock(), readOnly: true });
    expect((await samplesOf(reader)).length).toBe(4000);
    await store.store([piece([[5_000_000, 1]])]);
    expect((await samplesOf(reader)).length).toBe(4001);
    await expect(reader.store([piece([[6_000_000, 1]])])).rejects.toMatchObject({ code: 'store_read_only' });
    expect((await reader.health()).state).toBe('failing');
    await reader.close();
    await store.close();
  });
});

describe('a full disk', () => {
  test('refuses the whole batch, tells it in health, and goes on by itself once there is room', async () => {
    const database = openDatabase(path);
    const store = storeOver(database, standingClock());
    await store.store([steadyPiece(0, 100)]);
    const tooMuch = Array.from({ length: 400 }, (_, i) => steadyPiece((i + 1) * HOUR_MS, 3600));
    // SQLite answers SQLITE_FULL at its own page limit exactly as it does for a disk without room.
    database.pragma('max_page_count = 20');
    await expect(store.store(tooMuch)).rejects.toMatchObject({ code: 'store_full' });
    expect((await samplesOf(store)).length).toBe(100);
    expect(await store.health()).toMatchObject({ state: 'ok' });
    database.pragma('max_page_count = 1000000');
    expect(await store.store(tooMuch.slice(0, 1))).toEqual([{ stored: 3600, duplicate: 0, conflict: 0 }]);
    expect(await store.health()).toMatchObject({ state: 'ok', message: undefined });
    await store.close();
  });
});

describe('migrations', () => {
  test('run in order, once, and a failing step leaves the file as it was', () => {
    const database = openDatabase(path);
    const steps = [
      ...MIGRATIONS,
      'create table added (x)',
      'create table added_twice (x); insert into nowhere values (1)',
    ];
    expect(() => migrate(database, path, steps)).toThrow(/nowhere/);
    expect(database.pragma('user_version', { simple: true })).toBe(MIGRATIONS.length + 1);
    const tables = database.prepare("select name from sqlite_schema where name like 'added%'").pluck().all();
    expect(tables).toEqual(['added']);
    migrate(database, path, [...MIGRATIONS, 'create table added (x)']);
    database.close();
  });
});

describe('sealing again', () => {
  test('late samples raise the block version, are recorded, and change nothing else', async () => {
    const store = await open();
    await store.store([steadyPiece(0, 3600), steadyPiece(HOUR_MS, 3600)]);
    await sealAll(store);
    await store.store([piece([[500, 9.5]]), piece([[1500, 9.75]])]);
    expect((await store.health()).sealing).toBe(1);
    await sealAll(store, START_MS + 50 * HOUR_MS);
    const samples = await samplesOf(store);
    expect(samples.length).toBe(7202);
    expect(samples.slice(0, 3).map(([, value]) => value)).toEqual([
      steadyPiece(0, 1).value[0],
      9.5,
      steadyPiece(1000, 1).value[0],
    ]);
    await store.close();

    const database = openDatabase(path);
    expect(database.prepare('select version, sample_count, max_value from block order by hour').all()).toEqual([
      { version: 2, sample_count: 3602, max_value: 9.75 },
      expect.objectContaining({ version: 1, sample_count: 3600 }),
    ]);
    expect(database.prepare('select reason, last_at_ms, times, samples_added from reseal').all()).toEqual([
      { reason: 'late_samples', last_at_ms: START_MS + 50 * HOUR_MS, times: 1, samples_added: 2 },
    ]);
    database.close();
  });

  test('a damaged block is told once, its late samples stay readable, and other hours are sealed', async () => {
    let store = await open();
    await store.store([steadyPiece(0, 3600), steadyPiece(HOUR_MS, 3600)]);
    await sealAll(store);
    await store.close();
    const database = openDatabase(path);
    database
      .prepare("update block_payload set part = x'0900' where id / 1024 = (select id from block order by hour limit 1)")
      .run();
    database.close();
    store = await open();
    // Before the stored hour, so that it needn't be read; then late samples into the damaged hour's row by another way.
    await store.store([piece([[2 * HOUR_MS, 2]]), piece([[-HOUR_MS, 1]])]);
    await store.store([piece([[3_599_999, 9]])]);
    await expect(sealAll(store)).rejects.toMatchObject({ code: 'store_corrupt' });
    await sealAll(store);
    expect((await store.health()).sealing).toBe(0);
    expect((await collectRuns(store, 'front-hall', 'pressure', START_MS + HOUR_MS))[0]!.timeMs.length).toBe(3600);
    await expect(samplesOf(store)).rejects.toMatchObject({ code: 'store_corrupt' });
    await store.close();
  });
});

test('erased samples are not left behind in the file', async () => {
  const store = await open();
  const text = 'mark of an erased unit';
  await store.store([steadyPiece(0, 3700, { unit: text }), steadyPiece(0, 10, { loggerId: 'back-yard' })]);
  await sealAll(store, START_MS + 1.5 * HOUR_MS);
  expect(readFileSync(path).includes(text) || readFileSync(`${path}-wal`).includes(text)).toBe(true);
  await store.eraseLogger('front-hall');
  expect(readFileSync(path).includes(text)).toBe(false);
  expect(readFileSync(`${path}-wal`).includes(text)).toBe(false);
  await store.close();
});

test('after a torn write into the middle of the file the start says so', async () => {
  const store = await open();
  for (let hour = 0; hour < 30; hour++) await store.store([steadyPiece(hour * HOUR_MS, 3600)]);
  await store.close();
  const file = openSync(path, 'r+');
  for (let page = 2; page < 12; page++) writeSync(file, Buffer.alloc(64, 0xff), 0, 64, page * 16_384);
  closeSync(file);
  await expect(open()).rejects.toMatchObject({ code: 'store_corrupt' });
});

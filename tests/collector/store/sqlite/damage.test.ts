import { closeSync, openSync, readFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Store } from '../../../../collector/store/port.ts';
import { openDatabase, type SqliteDatabase } from '../../../../collector/store/sqlite/open-database.ts';
import { openSqliteStore, STORE_FILE, storeOver } from '../../../../collector/store/sqlite/open-store.ts';
import { createRecordUpkeep } from '../../../../collector/store/sqlite/record-upkeep.ts';
import {
  collectRuns,
  HOUR_MS,
  normal,
  piece,
  START_MS,
  scratchFolder,
  sealAll,
  seededChance,
  standingClock,
  steadyPiece,
} from '../store-under-test.ts';

/*
 * Bytes of the file are changed under a store that is open. What its cache holds is dropped first (PRAGMA
 * shrink_memory), as it would be in a store larger than its cache. Kinds of pages: SQLite, "Database File Format",
 * section 1.6: the first byte of a page tells the kind of a b-tree page; 2 and 5 are interior, 10 and 13 leaves.
 */
const PAGE_BYTES = 16_384;
const LOGGERS = ['front-hall', 'back-yard'] as const;
const HOURS = 72;

let scratch: ReturnType<typeof scratchFolder>;
let path: string;
let database: SqliteDatabase;
let store: Store;

beforeEach(async () => {
  scratch = scratchFolder();
  path = join(scratch.folder, STORE_FILE);
  const made = await openSqliteStore({ folder: scratch.folder, clock: standingClock() });
  const chance = seededChance(3);
  for (const loggerId of LOGGERS) {
    for (let hour = 0; hour < HOURS; hour++) {
      const even = steadyPiece(hour * HOUR_MS, 3600, { loggerId });
      const value = even.value.map((bar) => Math.round(1000 * bar + 5 * normal(chance)) / 1000);
      await made.store([{ ...even, value }]);
    }
    await sealAll(made, START_MS + 1000 * HOUR_MS);
  }
  // Two hours of each stay in the tail.
  for (const loggerId of LOGGERS)
    for (let half = 0; half < 240; half++)
      await made.store([steadyPiece(HOURS * HOUR_MS + half * 30_000, 30, { loggerId })]);
  await made.close();
  database = openDatabase(path);
  store = storeOver(database, standingClock(START_MS + (HOURS + 1) * HOUR_MS));
});
afterEach(async () => {
  await store.close();
  scratch.remove();
});

/** Pages whose b-tree belongs to the object; dbstat isn't built in, so rows are found by walking children. */
function pagesOf(name: string): { page: number; kind: number }[] {
  const file = readFileSync(path);
  const root = database.prepare('select rootpage from sqlite_schema where name = ?').pluck().get(name) as number;
  const found: { page: number; kind: number }[] = [];
  const visit = (page: number) => {
    const at = (page - 1) * PAGE_BYTES;
    const kind = file[at]!;
    found.push({ page, kind });
    if (kind !== 2 && kind !== 5) return;
    const cells = file.readUInt16BE(at + 3);
    for (let i = 0; i < cells; i++) visit(file.readUInt32BE(at + file.readUInt16BE(at + 12 + 2 * i)));
    visit(file.readUInt32BE(at + 8));
  };
  visit(root);
  return found;
}

function damage(page: number, from: number, bytes: Buffer): void {
  database.pragma('shrink_memory');
  const file = openSync(path, 'r+');
  writeSync(file, bytes, 0, bytes.length, (page - 1) * PAGE_BYTES + from);
  closeSync(file);
}

const hourOf = (loggerId: string, hour: number) =>
  collectRuns(store, loggerId, 'pressure', START_MS + hour * HOUR_MS, START_MS + (hour + 1) * HOUR_MS);

/** What reading each hour of a logger gives. */
async function hoursRead(loggerId: string): Promise<{ good: number; told: { code: string; message: string }[] }> {
  const told: { code: string; message: string }[] = [];
  let good = 0;
  for (let hour = 0; hour < HOURS + 2; hour++) {
    try {
      const runs = await hourOf(loggerId, hour);
      if (runs.reduce((sum, run) => sum + run.timeMs.length, 0) === 3600) good++;
    } catch (error) {
      told.push(error as { code: string; message: string });
    }
  }
  return { good, told };
}

describe('a damaged page under a running store', () => {
  test('of payloads: the hours on it are told with logger and time, all others are read and stored', async () => {
    const leaf = pagesOf('block_payload').filter(({ kind }) => kind === 13)[3]!.page;
    damage(leaf, PAGE_BYTES / 2, Buffer.alloc(64, 0xa5));
    const front = await hoursRead('front-hall');
    expect(front.told.length).toBeGreaterThan(0);
    expect(front.good).toBe(HOURS + 2 - front.told.length);
    for (const problem of front.told) {
      expect(problem).toMatchObject({
        code: 'store_corrupt',
        message: expect.stringMatching(
          /pressure of logger front-hall from 2026-05-0\dT\d\d:00:00Z to 2026-05-0\dT\d\d:00:00Z/,
        ),
        hint: expect.stringMatching(/other times.*restore/),
      });
    }
    expect((await hoursRead('back-yard')).good).toBe(HOURS + 2);
    // A span that holds the hour names the hour, not the span.
    await expect(collectRuns(store)).rejects.toMatchObject({ message: front.told[0]!.message });
    expect(await store.store([steadyPiece((HOURS + 3) * HOUR_MS, 10)])).toMatchObject([{ stored: 10 }]);
    expect((await store.health()).state).toBe('ok');
    const check = await createRecordUpkeep(scratch.folder).check(() => undefined);
    expect(check.faults.map(({ loggerId }) => loggerId)).toContain('front-hall');
  });

  test('of payloads, changed so little that it still unpacks: read samples are compared with their fingerprint', async () => {
    const leaves = pagesOf('block_payload').filter(({ kind }) => kind === 13);
    let [silent, wrong] = [0, 0];
    const before = new Map<number, string>();
    for (let hour = 0; hour < HOURS; hour++) before.set(hour, JSON.stringify(await hourOf('front-hall', hour)));
    const chance = seededChance(5);
    for (let trial = 0; trial < 12; trial++) {
      const page = leaves[Math.floor(chance() * leaves.length)]!.page;
      const at = 3000 + Math.floor(chance() * 12_000);
      const there = readFileSync(path)[(page - 1) * PAGE_BYTES + at]!;
      damage(page, at, Buffer.of(there ^ (1 << Math.floor(8 * chance()))));
    }
    for (let hour = 0; hour < HOURS; hour++) {
      try {
        if (JSON.stringify(await hourOf('front-hall', hour)) !== before.get(hour)) silent++;
      } catch {
        wrong++;
      }
    }
    expect(wrong).toBeGreaterThan(0);
    expect(silent).toBe(0);
  });

  test('of the index of hours: its logger is told, the other goes on', async () => {
    const leaves = pagesOf('block_by_key').filter(({ kind }) => kind === 10);
    damage(leaves[0]!.page, 0, Buffer.alloc(16, 0xff));
    const front = await hoursRead('front-hall');
    expect(front.told.length + front.good).toBe(HOURS + 2);
    expect(front.told[0]).toMatchObject({ code: 'store_corrupt', message: expect.stringContaining('front-hall') });
    expect(await store.latest(LOGGERS)).toHaveLength(2);
    expect((await store.summaries('back-yard', 'pressure', START_MS, START_MS + HOUR_MS, 'minute')).length).toBe(1);
  });

  test('of minutes: the day is told', async () => {
    const leaf = pagesOf('day_summary').find(({ kind }) => kind === 13)!.page;
    damage(leaf, PAGE_BYTES - 3000, Buffer.alloc(2900, 0x5a));
    const both = await Promise.allSettled(
      LOGGERS.map((id) => store.summaries(id, 'pressure', START_MS, START_MS + 72 * HOUR_MS, 'minute')),
    );
    const faults = both.flatMap((result) => (result.status === 'rejected' ? [result.reason] : []));
    expect(faults.length).toBeGreaterThan(0);
    expect(faults[0]).toMatchObject({
      code: 'store_corrupt',
      message: expect.stringMatching(/from 2026-05-0\dT00:00:00Z to 2026-05-0\dT00:00:00Z/),
    });
    expect((await hoursRead('front-hall')).good).toBe(HOURS + 2);
  });

  test('of the tail: nothing is acknowledged that did not go in, health says it and keeps saying it', async () => {
    const leaves = pagesOf('tail_piece').filter(({ kind }) => kind === 10);
    expect(leaves.length).toBeGreaterThan(2);
    damage(leaves[0]!.page, 0, Buffer.alloc(16, 0xff));
    const late = piece([[HOURS * HOUR_MS + 500, 9]]);
    await expect(store.store([late])).rejects.toMatchObject({ code: 'store_corrupt' });
    const health = await store.health();
    expect(health).toMatchObject({ state: 'failing', message: expect.stringMatching(/damaged.*restore/) });
    // Trying to write elsewhere goes well and says nothing about the tail.
    await store.putState('a-note', '1');
    expect(await store.health()).toMatchObject({ state: 'failing' });
    // What the damaged page holds can't be left out in silence, so its logger is told; the other goes on.
    await expect(hourOf('front-hall', 3)).rejects.toMatchObject({ message: expect.stringContaining('front-hall') });
    expect((await hoursRead('back-yard')).good).toBe(HOURS + 2);
    const other = steadyPiece((HOURS + 2) * HOUR_MS, 10, { loggerId: 'back-yard' });
    expect(await store.store([other])).toMatchObject([{ stored: 10 }]);
    expect(await store.health()).toMatchObject({ state: 'failing' });
  });

  test('under late samples: they wait in the tail or at their sender, sealing goes on with other hours', async () => {
    const leaf = pagesOf('block_payload').filter(({ kind }) => kind === 13)[3]!.page;
    damage(leaf, PAGE_BYTES / 2, Buffer.alloc(64, 0xa5));
    const { told } = await hoursRead('front-hall');
    const [, day, hour] = /from 2026-05-0(\d)T(\d\d)/.exec(told[0]!.message)!;
    const damaged = (Number(day) - 4) * 24 + Number(hour);
    await expect(store.store([piece([[damaged * HOUR_MS + 500, 9]])])).rejects.toMatchObject({
      code: 'store_corrupt',
      message: expect.stringContaining('front-hall'),
    });
    await store.store([piece([[(damaged + 1) * HOUR_MS - 1, 9]], { loggerId: 'back-yard' })]);
    const seal = () => sealAll(store, START_MS + 1000 * HOUR_MS).catch((error: { code: string }) => error.code);
    for (let turn = 0; turn < 4; turn++) await seal();
    expect((await store.health()).sealing).toBe(0);
    expect((await hoursRead('back-yard')).good).toBe(HOURS + 1);
  });
});

test('the check at start of a file too large to be read whole sees damage where nothing would work', async () => {
  await store.close();
  openDatabase(path, { wholeCheckUpToBytes: 0 }).close();
  database = openDatabase(path);
  const setting = pagesOf('setting')[0]!.page;
  const root = pagesOf('block_payload')[0]!.page;
  const inner = pagesOf('block_payload').filter(({ kind }) => kind === 13)[3]!.page;
  database.close();
  const spoil = (page: number) => {
    const there = readFileSync(path).subarray((page - 1) * PAGE_BYTES, page * PAGE_BYTES);
    const kept = Buffer.from(there);
    const write = (bytes: Buffer) => {
      const file = openSync(path, 'r+');
      writeSync(file, bytes, 0, bytes.length, (page - 1) * PAGE_BYTES);
      closeSync(file);
    };
    write(Buffer.alloc(PAGE_BYTES, 0xff));
    return () => write(kept);
  };
  const openLarge = () => openDatabase(path, { wholeCheckUpToBytes: 0 }).close();
  for (const page of [setting, root]) {
    const mend = spoil(page);
    expect(openLarge).toThrowError(expect.objectContaining({ code: 'store_corrupt' }));
    mend();
    openLarge();
  }
  const mend = spoil(inner);
  openLarge();
  expect(() => openDatabase(path)).toThrowError(expect.objectContaining({ code: 'store_corrupt' }));
  mend();
  database = openDatabase(path);
  store = storeOver(database, standingClock());
});

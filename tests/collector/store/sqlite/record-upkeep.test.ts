import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { CHANNEL_NUMBER } from '../../../../collector/store/hours.ts';
import type { RecordCheck } from '../../../../collector/store/record-check.ts';
import { copyRecord } from '../../../../collector/store/sqlite/copy-record.ts';
import { openPlainFile } from '../../../../collector/store/sqlite/open-database.ts';
import { openSqliteStore, STORE_FILE } from '../../../../collector/store/sqlite/open-store.ts';
import { createRecordUpkeep } from '../../../../collector/store/sqlite/record-upkeep.ts';
import { restoreRecord } from '../../../../collector/store/sqlite/restore-record.ts';
import {
  HOUR_MS,
  piece,
  START_MS,
  samplesOf,
  scratchFolder,
  sealAll,
  standingClock,
  steadyPiece,
} from '../store-under-test.ts';

const PRESSURE = CHANNEL_NUMBER.pressure;

let scratch: ReturnType<typeof scratchFolder>;
let path: string;
beforeEach(() => {
  scratch = scratchFolder();
  path = join(scratch.folder, STORE_FILE);
});
afterEach(() => scratch.remove());

const open = (folder = scratch.folder) => openSqliteStore({ folder, clock: standingClock() });
const check = (folder = scratch.folder): Promise<RecordCheck> => createRecordUpkeep(folder).check(() => undefined);
const quiet = () => undefined;
const digestOf = (file: string) => createHash('sha256').update(readFileSync(file)).digest('hex');

/** Thirty sealed hours of pressure, one of flow, late samples resealed, and an open hour. */
async function fill(folder = scratch.folder): Promise<void> {
  const store = await open(folder);
  for (let hour = 0; hour < 30; hour++) await store.store([steadyPiece(hour * HOUR_MS, 3599)]);
  await store.store([steadyPiece(0, 100, { channel: 'flow', unit: 'l/min' })]);
  await sealAll(store, START_MS + 40 * HOUR_MS);
  await store.store([piece([[3_599_500, 2.5]])]);
  await sealAll(store, START_MS + 40 * HOUR_MS);
  await store.store([steadyPiece(50 * HOUR_MS, 100)]);
  await store.close();
}

/** Changes the file behind the program's back. */
function tamper(sql: string, ...values: unknown[]): void {
  const database = openPlainFile(path);
  expect(database.prepare(sql).run(...values).changes).toBeGreaterThan(0);
  database.close();
}

describe('a full check', () => {
  test('of a sound record finds nothing, and has read every sample', async () => {
    await fill();
    const steps: number[] = [];
    const found = await createRecordUpkeep(scratch.folder).check(({ done }) => steps.push(done));
    expect(found).toEqual({ hours: 31, samples: 30 * 3599 + 100 + 1 + 100, faults: [], faultCount: 0 });
    expect(steps.at(-1)).toBe(31);
  });

  const at = (hour: number) => START_MS + hour * HOUR_MS;
  const hourNumber = START_MS / HOUR_MS + 7;
  test.each([
    ['another seal', `update block set sha256 = zeroblob(32) where hour = ${hourNumber}`, ['seal_differs']],
    [
      'another count',
      `update block set sample_count = 3598 where hour = ${hourNumber}`,
      ['columns_differ', 'count_differs'],
    ],
    ['another extreme', `update block set min_value = 0.1 where hour = ${hourNumber}`, ['columns_differ']],
    [
      'no samples any more',
      `delete from block_payload where id / 1024 = (select id from block where hour = ${hourNumber} and channel = ${PRESSURE})`,
      ['hour_unreadable'],
    ],
  ])('tells a sealed hour with %s, and which hour', async (_name, sql, kinds) => {
    await fill();
    tamper(sql);
    const found = await check();
    expect(found.faults.map((fault) => fault.kind)).toEqual(kinds);
    expect(found.faults[0]).toMatchObject({ loggerId: 'front-hall', channel: 'pressure', hourMs: at(7) });
  });

  test('tells samples that were changed together with nothing else', async () => {
    await fill();
    const database = openPlainFile(path);
    const rows = database
      .prepare(`select id, hour from block where channel = ${PRESSURE} order by hour limit 2`)
      .all() as {
      id: number;
    }[];
    const parts = database.prepare('select part from block_payload where id / 1024 = ? order by id').pluck();
    const put = database.prepare('update block_payload set part = ? where id = ?');
    const [first, second] = rows.map(({ id }) => Buffer.concat(parts.all(id) as Buffer[]));
    expect(first!.equals(second!)).toBe(false);
    const size = database
      .prepare('select length(part) from block_payload where id = ?')
      .pluck()
      .get(rows[0]!.id * 1024) as number;
    put.run(second!.subarray(0, size), rows[0]!.id * 1024);
    database.close();
    const found = await check();
    expect(found.faultCount).toBeGreaterThan(0);
    expect(['seal_differs', 'hour_unreadable']).toContain(found.faults[0]!.kind);
    expect(found.faults[0]!.hourMs).toBe(START_MS);
  });

  test('tells minutes that are not those of the samples, missing ones too', async () => {
    await fill();
    const other = openPlainFile(path);
    const days = other
      .prepare(`select day, payload from day_summary where channel = ${PRESSURE} order by day`)
      .all() as {
      day: number;
      payload: Buffer;
    }[];
    other.close();
    expect(days.length).toBe(2);
    tamper(`delete from day_summary where channel = ${PRESSURE} and day = ?`, days[1]!.day);
    const found = await check();
    expect(new Set(found.faults.map((fault) => fault.kind))).toEqual(new Set(['summary_differs']));
    expect(found.faults.map((fault) => fault.hourMs)).toEqual([24, 25, 26, 27, 28, 29].map(at));
  });

  test('tells a tail that cannot be read, and a page of the file that was overwritten', async () => {
    await fill();
    tamper("update tail_piece set samples = x'ff00ff'");
    expect((await check()).faults.map((fault) => fault.kind)).toContain('piece_unreadable');
    const bytes = readFileSync(path);
    bytes.fill(0x55, bytes.length - 3 * 16_384, bytes.length - 2 * 16_384);
    writeFileSync(path, bytes);
    const found = await check();
    expect(found.faultCount).toBeGreaterThan(0);
    expect(found.faults.map((fault) => fault.kind)).toContain('file_damaged');
  });
});

describe('a copy', () => {
  test('made while samples are stored is whole, of one moment, and one file alone', async () => {
    await fill();
    const store = await open();
    let stored = 0;
    let storing = true;
    const intake = (async () => {
      while (storing) {
        await store.store([steadyPiece(60 * HOUR_MS + stored * 1000, 10)]);
        stored += 10;
        await new Promise((resolve) => setImmediate(resolve));
      }
    })();
    const target = join(scratch.folder, 'copy.db');
    const shares: number[] = [];
    await copyRecord(path, target, ({ done, total }) => shares.push(done / total));
    storing = false;
    await intake;
    const after = stored;
    expect((await samplesOf(store)).length).toBe(30 * 3599 + 101 + after);
    await store.close();
    expect(readdirSync(scratch.folder).filter((name) => name.startsWith('copy'))).toEqual(['copy.db']);
    expect(statSync(target).mode & 0o777).toBe(0o600);
    mkdirSync(join(scratch.folder, 'other'));
    await restoreRecord(join(scratch.folder, 'other'), target, { replace: false, nowMs: START_MS }, quiet);
    const other = await open(join(scratch.folder, 'other'));
    const copied = (await samplesOf(other)).length;
    expect(copied).toBeGreaterThanOrEqual(30 * 3599 + 101);
    expect(copied).toBeLessThanOrEqual(30 * 3599 + 101 + after);
    expect((copied - 101 - 30 * 3599) % 10).toBe(0);
    await other.close();
  });

  test('never writes over a file that is there, and leaves none behind where it fails', async () => {
    await fill();
    const target = join(scratch.folder, 'copy.db');
    writeFileSync(target, 'mine');
    await expect(copyRecord(path, target, quiet)).rejects.toThrow(/EEXIST/);
    expect(readFileSync(target, 'utf8')).toBe('mine');
    await expect(copyRecord(join(scratch.folder, 'none.db'), join(scratch.folder, 'no.db'), quiet)).rejects.toThrow();
    expect(existsSync(join(scratch.folder, 'no.db'))).toBe(false);
  });
});

describe('restoring', () => {
  let backup: string;
  beforeEach(async () => {
    await fill();
    backup = join(scratch.folder, 'backup.copy');
    await copyRecord(path, backup, quiet);
  });
  const restore = (replace = false, file = backup) =>
    restoreRecord(scratch.folder, file, { replace, nowMs: START_MS }, quiet);
  /** Without the two files that a reader leaves beside a store that nobody has opened for writing since. */
  const inFolder = () =>
    readdirSync(scratch.folder)
      .filter((name) => !/db-(wal|shm)$/.test(name))
      .sort();

  test('brings every sample and setting back and keeps aside what was there', async () => {
    const store = await open();
    const before = await samplesOf(store);
    await store.close();
    const digest = digestOf(backup);
    const { keptAside, channels } = await restore();
    expect(keptAside).toBe(`${path}.replaced-2026-05-04T00-00-00Z`);
    expect(channels.map(({ channel, count }) => [channel, count])).toEqual([
      ['pressure', 30 * 3599 + 101],
      ['flow', 100],
    ]);
    const restored = await open();
    expect(await samplesOf(restored)).toEqual(before);
    await restored.close();
    expect(digestOf(backup)).toBe(digest);
    expect(inFolder()).toEqual(['backup.copy', STORE_FILE, `${STORE_FILE}.replaced-2026-05-04T00-00-00Z`]);
    // Twice in one second: neither copy kept aside is lost.
    expect((await restore()).keptAside).toBe(`${path}.replaced-2026-05-04T00-00-00Z-2`);
  });

  test('refuses a newer record unless told to, says what is newer, and then keeps it aside whole', async () => {
    const store = await open();
    await store.store([steadyPiece(70 * HOUR_MS, 500)]);
    await store.close();
    await expect(restore()).rejects.toMatchObject({
      code: 'record_newer',
      message: expect.stringMatching(
        /front-hall pressure: 2026-05-06T22:08:19Z, 108571 samples \(backup: 2026-05-06T02:01:39Z, 108071 samples\)/,
      ),
      hint: expect.stringMatching(/--replace/),
    });
    expect(inFolder()).toEqual(['backup.copy', STORE_FILE]);
    const { keptAside } = await restore(true);
    const restored = await open();
    expect((await samplesOf(restored)).length).toBe(30 * 3599 + 101);
    await restored.close();
    mkdirSync(join(scratch.folder, 'aside'));
    await restoreRecord(join(scratch.folder, 'aside'), keptAside!, { replace: false, nowMs: START_MS }, quiet);
    const aside = await open(join(scratch.folder, 'aside'));
    expect((await samplesOf(aside)).length).toBe(30 * 3599 + 601);
    await aside.close();
  });

  test.each<[string, () => void]>([
    ['cut short', () => truncateSync(backup, statSync(backup).size - 20_000)],
    ['no database', () => writeFileSync(backup, 'a letter, not a database '.repeat(2000))],
    ['empty', () => writeFileSync(backup, '')],
    [
      'with one byte of a sealed hour changed',
      () => {
        const database = openPlainFile(backup);
        database.exec("update block_payload set part = substr(part, 1, 200) || x'00' || substr(part, 202)");
        database.close();
      },
    ],
    [
      'of another program',
      () => {
        const database = openPlainFile(backup);
        database.pragma('application_id = 7');
        database.close();
      },
    ],
  ])('refuses a file that is %s, and changes nothing', async (_name, damage) => {
    damage();
    const before = digestOf(path);
    // In one sentence about the file that was named, not about the copy that was looked at.
    const message = expect.stringMatching(/^The backup "backup\.copy" is damaged: (?!.*restoring-).*[^.]\.$/);
    await expect(restore(true)).rejects.toMatchObject({ code: 'backup_damaged', message });
    expect(digestOf(path)).toBe(before);
    expect(inFolder()).toEqual(['backup.copy', STORE_FILE]);
  });

  test('refuses a file of a newer version and one that is not there', async () => {
    const database = openPlainFile(backup);
    database.pragma('user_version = 999');
    database.close();
    await expect(restore(true)).rejects.toMatchObject({ code: 'store_newer' });
    await expect(restore(true, join(scratch.folder, 'none'))).rejects.toMatchObject({ code: 'unreadable_file' });
  });

  test('in the place of a record that cannot be read asks to be told so, and keeps that one too', async () => {
    writeFileSync(path, 'rubbish'.repeat(10_000));
    writeFileSync(`${path}-wal`, 'rubbish');
    await expect(restore()).rejects.toMatchObject({ code: 'record_newer', message: /can't be read/ });
    const { keptAside } = await restore(true);
    expect(readFileSync(keptAside!, 'utf8')).toMatch(/^rubbish/);
    expect(readFileSync(`${keptAside}-wal`, 'utf8')).toBe('rubbish');
    const restored = await open();
    expect((await samplesOf(restored)).length).toBe(30 * 3599 + 101);
    await restored.close();
  });
});

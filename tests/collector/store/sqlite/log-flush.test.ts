import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { createLogFlush } from '../../../../collector/store/sqlite/log-flush.ts';
import { openDatabase, openPlainFile } from '../../../../collector/store/sqlite/open-database.ts';

it('commits in order and resolves each with its own result, however many are on their way', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'log-flush-'));
  const database = openDatabase(join(folder, 'samples.db'));
  database.exec('create table entry (number integer primary key)');
  const insert = database.prepare('insert into entry values (?)');
  const log = createLogFlush(database);
  const numbers = Array.from({ length: 200 }, (_, number) => number);
  const done: number[] = [];
  const results = await Promise.all(
    numbers.map(async (number) => {
      const result = await log.durably(() => Number(insert.run(number).lastInsertRowid));
      done.push(result);
      return result;
    }),
  );
  expect(results).toEqual(numbers);
  expect(done).toEqual(numbers);
  expect(database.pragma('synchronous', { simple: true }), 'other writers still wait for the disk').toBe(2);
  await expect(log.durably(() => insert.run(5))).rejects.toThrow(/UNIQUE/);
  await log.close();
  const other = openPlainFile(join(folder, 'samples.db'), { readOnly: true });
  expect(other.prepare('select count(*) as n from entry').get()).toEqual({ n: 200 });
  other.close();
  database.close();
  rmSync(folder, { recursive: true });
});

it('says that nothing counts while the log cannot be told to the disk, and goes on once it can', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'log-flush-'));
  const database = openDatabase(join(folder, 'samples.db'));
  // Without a write-ahead log there is nothing to be told.
  database.pragma('journal_mode = DELETE');
  const log = createLogFlush(database);
  for (let attempt = 0; attempt < 2; attempt++)
    await expect(log.durably(() => attempt)).rejects.toMatchObject({ code: 'store_unavailable' });
  database.pragma('journal_mode = WAL');
  database.exec('create table entry (number integer primary key)');
  expect(await log.durably(() => 7)).toBe(7);
  await log.close();
  database.close();
  rmSync(folder, { recursive: true });
});

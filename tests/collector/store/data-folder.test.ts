import { statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { holdDataFolder, readHolder } from '../../../collector/store/data-folder.ts';
import { startChild } from './child-process.ts';
import { scratchFolder } from './store-under-test.ts';

let scratch: ReturnType<typeof scratchFolder>;
beforeEach(() => {
  scratch = scratchFolder();
});
afterEach(() => scratch.remove());

test('a folder is held by one process; the second is told which one, also within a process', () => {
  const folder = join(scratch.folder, 'new', 'folder');
  expect(readHolder(folder)).toBeUndefined();
  const hold = holdDataFolder(folder);
  hold.announce('http://127.0.0.1:8099');
  expect(readHolder(folder)).toEqual({ pid: process.pid, address: 'http://127.0.0.1:8099', token: hold.token });
  expect(hold.token.length).toBeGreaterThanOrEqual(43);
  expect(() => holdDataFolder(folder)).toThrow(
    expect.objectContaining({
      code: 'data_folder_held',
      message: expect.stringContaining(`process ${process.pid} at http://127.0.0.1:8099`),
    }),
  );
  expect(statSync(join(folder, 'server.json')).mode & 0o077).toBe(0);
  hold.release();
  hold.release();
  expect(readHolder(folder)).toBeUndefined();
  holdDataFolder(folder).release();
});

test('what a killed process left behind holds nothing', async () => {
  const child = startChild('./holding-child.ts', [scratch.folder]);
  await child.linesAtLeast(1);
  expect(readHolder(scratch.folder)).toMatchObject({ pid: child.process.pid, address: 'http://127.0.0.1:8080' });
  expect(() => holdDataFolder(scratch.folder)).toThrow(/held by process/);
  await child.kill();
  expect(readHolder(scratch.folder)).toBeUndefined();
  holdDataFolder(scratch.folder).release();
});

test('a holder file that is damaged is no answer, and the lock still counts', () => {
  const hold = holdDataFolder(scratch.folder);
  writeFileSync(join(scratch.folder, 'server.json'), '{"pid": 1');
  expect(readHolder(scratch.folder)).toBeUndefined();
  expect(() => holdDataFolder(scratch.folder)).toThrow(/held by another process/);
  hold.release();
});

test('a folder that cannot be made is a Problem', () => {
  writeFileSync(join(scratch.folder, 'file'), '');
  expect(() => holdDataFolder(join(scratch.folder, 'file', 'below'))).toThrow(
    expect.objectContaining({ code: 'store_unavailable' }),
  );
});

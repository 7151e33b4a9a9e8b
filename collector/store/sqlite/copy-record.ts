import { closeSync, fsyncSync, openSync, rmSync } from 'node:fs';
import type { UpkeepProgress } from '../record-check.ts';
import { openDatabase, openPlainFile, type SqliteDatabase, translating } from './open-database.ts';

/** Pages copied in one stretch: 1.6 MB. */
const PAGES_A_STRETCH = 100;

/**
 * Writes a whole copy of the store at `path` to `target`, as one file that needs no other beside it. The copy is what
 * was committed when it began: a reader's view of its own is held meanwhile, so the writer neither waits nor starts the
 * copy anew. Flushed to the disk before it resolves; removed where it fails.
 */
export async function copyRecord(
  path: string,
  target: string,
  onProgress: (progress: UpkeepProgress) => void,
  goOn: () => boolean = () => true,
): Promise<void> {
  // Made by hand first, so that the copy is for the owner's eyes only and never something that was there already.
  closeSync(openSync(target, 'wx', 0o600));
  try {
    const source = openDatabase(path, { readOnly: true });
    try {
      await copyPages(source, target, onProgress, goOn);
    } finally {
      source.close();
    }
    translating(target, () => {
      const copy = openPlainFile(target);
      copy.pragma('journal_mode = DELETE');
      copy.close();
    });
    flush(target);
  } catch (error) {
    for (const suffix of ['', '-journal', '-wal', '-shm']) rmSync(`${target}${suffix}`, { force: true });
    throw error;
  }
}

async function copyPages(
  source: SqliteDatabase,
  target: string,
  onProgress: (progress: UpkeepProgress) => void,
  goOn: () => boolean,
): Promise<void> {
  source.exec('begin');
  // The view is fixed by the first reading.
  source.prepare('select count(*) from sqlite_schema').get();
  let fault: unknown;
  await source
    .backup(target, {
      progress({ totalPages, remainingPages }) {
        if (!goOn()) throw new Error('the copy was given up');
        onProgress({ done: totalPages - remainingPages, total: totalPages });
        return PAGES_A_STRETCH;
      },
    })
    .catch((error: unknown) => {
      fault = error;
    });
  if (fault !== undefined)
    translating(target, () => {
      throw fault;
    });
  source.exec('commit');
}

/** A file's bytes or a folder's names to the disk, so that a name never stands for half a file after a power cut. */
export function flush(path: string): void {
  const handle = openSync(path, 'r');
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}

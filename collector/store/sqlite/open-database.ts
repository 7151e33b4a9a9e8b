import { statSync } from 'node:fs';
import Database from 'better-sqlite3';
import { Problem } from '../../model/problem.ts';
import { migrate } from './migrations.ts';

export type SqliteDatabase = Database.Database;
export type Statement = Database.Statement<unknown[], unknown>;

/** Written into the file's header: `mdia`, so that another program's file is told from ours. */
const APPLICATION_ID = 0x6d646961;
/** A block of some 2.3 kB wastes 80 % of a page of 4 KiB and 3 % of one of 16 KiB. */
const PAGE_BYTES = 16_384;
/** What is left of the write-ahead log after a checkpoint, in bytes. */
const LOG_LIMIT_BYTES = 16 * 1024 * 1024;
/** How long opening waits for another process that holds the file, in milliseconds. */
const BUSY_TIMEOUT_MS = 3000;
/**
 * How long a statement waits once the store is open. The whole program stands still meanwhile, so it is short: what
 * could not be stored isn't acknowledged, comes again, and health can be asked in between.
 */
const BUSY_TIMEOUT_OPEN_MS = 200;
/** Files up to this size are checked whole at every start: about half a second on a small machine. */
const QUICK_CHECK_LIMIT_BYTES = 256 * 1024 * 1024;
const NEEDED_TABLES = ['setting', 'logger_number', 'latest', 'erased_span', 'weight'] as const;
/** With the order of their keys; `@` stands for the direction. */
const LARGE_TABLES = [
  ['tail_piece', 'logger @, channel @, hour @, first_ms @'],
  ['block', 'id @'],
  ['block', 'logger @, channel @, hour @'],
  ['block_payload', 'id @'],
  ['day_summary', 'logger @, channel @, day @'],
] as const;

/**
 * Opens (or creates) the store's file and brings its tables up to date. Throws a Problem: `store_unavailable`,
 * `store_full`, `store_read_only`, `store_corrupt`, `store_newer`.
 */
export function openDatabase(
  path: string,
  options: { readOnly?: boolean; wholeCheckUpToBytes?: number } = {},
): SqliteDatabase {
  return translating(path, () => {
    const readonly = options.readOnly ?? false;
    const database = new Database(path, { readonly, fileMustExist: readonly, timeout: BUSY_TIMEOUT_MS });
    try {
      addFunctions(database);
      if (readonly) return database;
      preparePages(database);
      refuseForeignFile(database, path);
      database.pragma('journal_mode = WAL');
      database.pragma('synchronous = FULL');
      database.pragma('foreign_keys = ON');
      database.pragma(`journal_size_limit = ${LOG_LIMIT_BYTES}`);
      database.pragma('cache_size = -32768');
      quickCheck(database, path, options.wholeCheckUpToBytes ?? QUICK_CHECK_LIMIT_BYTES);
      migrate(database, path);
      database.pragma(`busy_timeout = ${BUSY_TIMEOUT_OPEN_MS}`);
      return database;
    } catch (error) {
      database.close();
      throw error;
    }
  });
}

/** A copy of a store as it lies there, without changing its form: to look at it or to finish it. */
export function openPlainFile(path: string, options: { readOnly?: boolean } = {}): SqliteDatabase {
  const readonly = options.readOnly ?? false;
  const database = new Database(path, { readonly, fileMustExist: true, timeout: BUSY_TIMEOUT_MS });
  addFunctions(database);
  return database;
}

/** Empties the write-ahead log where no reader still needs it; never waits for one, since the intake would wait too. */
export function emptyLog(database: SqliteDatabase): void {
  database.pragma('busy_timeout = 0');
  try {
    database.pragma('wal_checkpoint(TRUNCATE)');
  } finally {
    database.pragma(`busy_timeout = ${BUSY_TIMEOUT_OPEN_MS}`);
  }
}

/** Whether the file says of itself that it is a store of this program. */
export function isOwnFile(database: SqliteDatabase): boolean {
  return database.pragma('application_id', { simple: true }) === APPLICATION_ID;
}

/**
 * Takes an exclusive lock on a small file for as long as the returned database is open, or undefined where somebody
 * else holds it. The operating system lets go of it when the process dies, however it dies.
 */
export function lockExclusively(path: string, waitMs: number): { release(): void } | undefined {
  return translating(path, () => {
    const database = new Database(path, { timeout: waitMs });
    try {
      database.exec('begin exclusive');
      return { release: () => void database.close() };
    } catch (error) {
      database.close();
      if (isBusy(error)) return undefined;
      throw error;
    }
  });
}

/** Whether somebody holds the lock of `lockExclusively`. Doesn't take it, so it never stands in a starter's way for long. */
export function isLocked(path: string): boolean {
  return translating(path, () => {
    const database = new Database(path, { readonly: true, timeout: 0 });
    try {
      database.prepare('select count(*) from sqlite_schema').get();
      return false;
    } catch (error) {
      if (isBusy(error)) return true;
      throw error;
    } finally {
      database.close();
    }
  });
}

/** Runs `action`; what SQLite throws becomes a Problem that says what is wrong with the store and what to do. */
export function translating<Result>(path: string, action: () => Result): Result {
  try {
    return action();
  } catch (error) {
    throw asProblem(path, error);
  }
}

export function asProblem(path: string, error: unknown): unknown {
  if (error instanceof RangeError || isInflateError(error)) return corrupt(path, error);
  if (!(error instanceof Database.SqliteError)) return error instanceof Problem ? error : openingProblem(path, error);
  const code = error.code;
  if (code === 'SQLITE_FULL') {
    return new Problem(
      'store_full',
      `The disk that holds ${path} is full, so nothing more can be stored.`,
      'Free some space; samples that were not acknowledged are sent again and taken as soon as there is room.',
      { cause: error },
    );
  }
  if (code.startsWith('SQLITE_READONLY') || code === 'SQLITE_PERM') {
    return new Problem(
      'store_read_only',
      `The store ${path} can't be written: ${error.message}.`,
      'Check that the file, its folder and its -wal and -shm files belong to the user that runs the program and that the disk is not mounted read-only.',
      { cause: error },
    );
  }
  if (code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB') return corrupt(path, error);
  if (code.startsWith('SQLITE_CONSTRAINT') || code === 'SQLITE_ERROR' || code === 'SQLITE_MISUSE') return error;
  if (code.startsWith('SQLITE_BUSY') || code === 'SQLITE_LOCKED') {
    return new Problem(
      'store_unavailable',
      `The store ${path} is locked by another program.`,
      'Find and end the program that holds the file (a backup tool, a database browser); the samples wait at their senders and are taken as soon as it lets go.',
      { cause: error },
    );
  }
  if (code.startsWith('SQLITE_IOERR')) {
    return new Problem(
      'store_unavailable',
      `The disk under the store ${path} fails: ${error.message} (${code}).`,
      "Look at the disk and at the system's log (a card that wears out turns read-only); the program tries again by itself.",
      { cause: error },
    );
  }
  return new Problem(
    'store_unavailable',
    `The store ${path} doesn't answer: ${error.message} (${code}).`,
    'Check that no other program holds the file and that the disk is there; the program tries again by itself.',
    { cause: error },
  );
}

function openingProblem(path: string, error: unknown): unknown {
  // better-sqlite3 throws a TypeError where the folder is missing.
  if (error instanceof TypeError && /directory does not exist/i.test(error.message)) {
    return new Problem(
      'store_unavailable',
      `The folder of the store ${path} doesn't exist.`,
      'Create the folder, or name another one with --data.',
      { cause: error },
    );
  }
  return error;
}

function corrupt(path: string, cause: unknown): Problem {
  const seen = cause instanceof Error ? cause.message : String(cause);
  return new Problem(
    'store_corrupt',
    `The store ${path} is damaged: ${seen}.`,
    'Stop the program, keep a copy of the file, and put back the newest backup with "mainsdiary restore FILE".',
    { cause },
  );
}

/** `join_parts(blob order by …)`: the blobs one after the other, null where there are none. */
function addFunctions(database: SqliteDatabase): void {
  database.aggregate('join_parts', {
    start: () => [] as Uint8Array[],
    step: (parts: Uint8Array[], part: Uint8Array) => {
      parts.push(part);
    },
    result: (parts) => (parts.length === 1 ? parts[0] : parts.length === 0 ? null : Buffer.concat(parts)),
    deterministic: true,
  });
}

function preparePages(database: SqliteDatabase): void {
  // All three hold only if they are said before the first table is made; on an existing file they do nothing.
  database.pragma(`page_size = ${PAGE_BYTES}`);
  database.pragma('auto_vacuum = INCREMENTAL');
  database.pragma('encoding = "UTF-8"');
}

function refuseForeignFile(database: SqliteDatabase, path: string): void {
  const seen = database.pragma('application_id', { simple: true }) as number;
  if (seen === APPLICATION_ID) return;
  const tables = database.prepare('select count(*) from sqlite_schema').pluck().get() as number;
  if (tables > 0) throw corrupt(path, new Error('it is a database of another program'));
  database.pragma(`application_id = ${APPLICATION_ID}`);
}

/**
 * The check at every start, bounded in time. Of a file up to the limit: the structure of all of it. Of a larger one: the
 * structure of the tables without which nothing works (settings, names, newest samples), and of the large ones the path
 * from the root to their oldest and newest row. What lies between is looked at by a full check only.
 */
function quickCheck(database: SqliteDatabase, path: string, limitBytes: number): void {
  const judge = (answer: unknown) => {
    if (answer !== 'ok') throw corrupt(path, new Error(String(answer)));
  };
  if (statSync(path).size <= limitBytes) {
    judge(database.pragma('quick_check(1)', { simple: true }));
    return;
  }
  const tables = new Set(database.prepare("select name from sqlite_schema where type = 'table'").pluck().all());
  for (const table of NEEDED_TABLES)
    if (tables.has(table)) judge(database.pragma(`quick_check(${table})`, { simple: true }));
  for (const [table, order] of LARGE_TABLES) {
    if (!tables.has(table)) continue;
    for (const direction of ['asc', 'desc'])
      database.prepare(`select * from ${table} order by ${order.replaceAll('@', direction)} limit 1`).get();
  }
}

function isInflateError(error: unknown): boolean {
  return error instanceof Error && 'code' in error && String(error.code).startsWith('Z_');
}

function isBusy(error: unknown): boolean {
  return error instanceof Database.SqliteError && error.code.startsWith('SQLITE_BUSY');
}

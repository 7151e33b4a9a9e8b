import { mkdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Clock } from '../../model/clock.ts';
import { Problem } from '../../model/problem.ts';
import type { Store } from '../port.ts';
import { createBlocks } from './blocks.ts';
import { createErasing } from './erasing.ts';
import { createLoggerNumbers } from './logger-numbers.ts';
import { asProblem, emptyLog, openDatabase, type SqliteDatabase } from './open-database.ts';
import { createRefusalLog } from './refusals.ts';
import { createSampleReader } from './sample-reader.ts';
import { createSampleWriter } from './sample-writer.ts';
import { createSealing } from './sealing.ts';
import { createSettings } from './settings.ts';
import { createDaySummaries } from './summaries.ts';
import { createTail } from './tail.ts';
import { createWaitingHours } from './waiting-hours.ts';

/** The one file of samples and settings in the data folder. */
export const STORE_FILE = 'samples.db';

/** A write-ahead log longer than this is emptied once there is nothing left to seal, in bytes. */
const LONG_LOG_BYTES = 32 * 1024 * 1024;
/** Pages handed back to the disk in one turn (4 MiB), and how large a share of the file may stay free for reuse. */
const PAGES_HANDED_BACK = 256;
const SHARE_KEPT_FREE = 0.125;
const PAGES_KEPT_FREE = 64;

/** Name under which health writes the hour when it tries a store that failed. */
const PROBE_STATE = 'store/last-probe';

/**
 * Opens (or creates) the store in `folder`. `readOnly` is for worker threads: the same file, reading only, beside the
 * one store that writes. Rejects with a Problem: `store_unavailable`, `store_full`, `store_read_only`,
 * `store_corrupt`, `store_newer`.
 */
export async function openSqliteStore(options: {
  folder: string;
  clock: Pick<Clock, 'nowMs'>;
  readOnly?: boolean;
}): Promise<Store> {
  const path = join(options.folder, STORE_FILE);
  if (!options.readOnly) makeFolder(options.folder);
  const database = openDatabase(path, { readOnly: options.readOnly ?? false });
  return storeOver(database, options.clock);
}

/** The store over a database that is open and up to date; closing the store closes it. */
export function storeOver(database: SqliteDatabase, clock: Pick<Clock, 'nowMs'>): Store {
  const path = database.name;
  const numbers = createLoggerNumbers(database);
  const tail = createTail(database);
  const blocks = createBlocks(database);
  const summaries = createDaySummaries(database);
  const waiting = createWaitingHours(tail);
  const settings = createSettings(database);
  const refusals = createRefusalLog(database);
  const writer = createSampleWriter(database, { numbers, tail, blocks, waiting });
  const sealing = createSealing(database, { tail, blocks, summaries, waiting });
  const erasing = createErasing(database, {
    numbers,
    tail,
    blocks,
    summaries,
    refusals,
    settings: settings.inTransaction,
  });
  let failing: Problem | undefined;

  /** A write that failed is what health tells until a write succeeds. */
  function failed(error: unknown): unknown {
    const problem = asProblem(path, error);
    if (problem instanceof Problem) failing = problem;
    return problem;
  }

  function writing<Result>(action: () => Result): Result {
    try {
      const result = action();
      failing = undefined;
      return result;
    } catch (error) {
      throw failed(error);
    }
  }

  async function translated<Result>(action: () => Promise<Result>): Promise<Result> {
    try {
      return await action();
    } catch (error) {
      throw asProblem(path, error);
    }
  }

  function erase(action: () => void): void {
    writing(() => {
      try {
        action();
      } finally {
        writer.forget();
        waiting.reload();
      }
    });
  }

  function tidy(): void {
    if (fileBytes(`${path}-wal`) > LONG_LOG_BYTES) emptyLog(database);
    const free = database.pragma('freelist_count', { simple: true }) as number;
    const pages = database.pragma('page_count', { simple: true }) as number;
    const surplus = free - Math.max(PAGES_KEPT_FREE, Math.floor(pages * SHARE_KEPT_FREE));
    if (surplus > 0) database.pragma(`incremental_vacuum(${Math.min(surplus, PAGES_HANDED_BACK)})`);
  }

  return {
    ...createSampleReader(database, { numbers, summaries }),
    ...wrapAll(refusals.port, translated),
    ...wrapAll(settings.port, translated),
    async store(pieces) {
      return writing(() => writer.store(pieces));
    },
    async seal(nowMs, budgetMs) {
      return writing(() => {
        const left = sealing.seal(nowMs, budgetMs);
        if (left === 0) tidy();
        return left;
      });
    },
    async eraseSite(id) {
      erase(() => erasing.eraseSite(id));
    },
    async eraseLogger(id) {
      erase(() => erasing.eraseLogger(id));
    },
    async health() {
      if (failing) {
        // With nothing to store, only trying tells whether the store can be written again.
        try {
          await settings.port.putState(PROBE_STATE, String(clock.nowMs()));
          failing = undefined;
        } catch (error) {
          failed(error);
        }
      }
      return {
        state: failing ? 'failing' : 'ok',
        message: failing && `${failing.message} ${failing.hint}`,
        sealing: sealing.waiting(clock.nowMs()),
        bytes: fileBytes(path) + fileBytes(`${path}-wal`),
      };
    },
    async close() {
      if (!database.open) return;
      try {
        if (!database.readonly) {
          database.pragma('incremental_vacuum');
          database.pragma('wal_checkpoint(TRUNCATE)');
        }
      } catch {
        // A full or unwritable disk costs the tidying, nothing that was acknowledged; the next start does it again.
      } finally {
        database.close();
      }
    },
  };
}

type AsyncMethods = Record<string, (...parameters: never[]) => unknown>;

/** The same methods, with what SQLite throws turned into Problems. */
function wrapAll<Methods extends object>(
  methods: Methods,
  wrap: <Result>(action: () => Promise<Result>) => Promise<Result>,
): Methods {
  const wrapped: Record<string, unknown> = {};
  for (const [name, method] of Object.entries(methods as AsyncMethods)) {
    wrapped[name] = (...parameters: never[]) => wrap(async () => method(...parameters));
  }
  return wrapped as Methods;
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true, mode: 0o700 });
  } catch (cause) {
    throw new Problem(
      'store_unavailable',
      `The data folder ${folder} can't be created: ${(cause as Error).message}.`,
      'Name a folder that can be written with --data.',
      { cause },
    );
  }
}

function fileBytes(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}

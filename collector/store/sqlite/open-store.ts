import { mkdirSync, statfsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Clock } from '../../model/clock.ts';
import { Problem } from '../../model/problem.ts';
import { dayOfHour, hourOf } from '../hours.ts';
import type { LoggerWeight, Store } from '../port.ts';
import { createAgeing } from './ageing.ts';
import { createBlocks } from './blocks.ts';
import { createErasedSpans } from './erased-spans.ts';
import { createErasing } from './erasing.ts';
import { createLogFlush } from './log-flush.ts';
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
import { createLoggerWeights, createWeights } from './weights.ts';

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
  const weights = createWeights(database);
  const blocks = createBlocks(database, weights);
  const summaries = createDaySummaries(database, weights);
  const erased = createErasedSpans(database);
  const waiting = createWaitingHours(tail);
  const settings = createSettings(database);
  const refusals = createRefusalLog(database);
  const writer = createSampleWriter(database, { numbers, tail, blocks, erased, waiting });
  const sealing = createSealing(database, { tail, blocks, summaries, waiting });
  const erasing = createErasing(database, {
    numbers,
    tail,
    blocks,
    summaries,
    erased,
    weights,
    refusals,
    settings: settings.inTransaction,
  });
  const ageing = createAgeing(database, { numbers, blocks, summaries, erased, settings: settings.inTransaction });
  const loggerWeights = createLoggerWeights(weights, numbers, () => dayOfHour(hourOf(clock.nowMs())));
  const log = createLogFlush(database);
  const changes = database.prepare('select total_changes()').pluck();
  let failing: Problem | undefined;
  /** A damaged place doesn't heal: that samples meant for it can't be stored is told until the next start. */
  let damage: Problem | undefined;

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
        settings.forget();
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
    ...createSampleReader(database, { numbers, summaries, erased }),
    ...wrapAll(refusals.port, translated),
    ...wrapAll(settings.port, translated),
    async store(pieces) {
      if (pieces.length === 0) return [];
      try {
        const outcomes = await log.durably(() => writer.store(pieces));
        failing = undefined;
        return outcomes;
      } catch (error) {
        const told = failed(error);
        if (told instanceof Problem && told.code === 'store_corrupt') damage = told;
        throw told;
      }
    },
    async seal(nowMs, budgetMs) {
      return writing(() => {
        const left = sealing.seal(nowMs, budgetMs);
        if (left === 0) tidy();
        return left;
      });
    },
    async eraseAged(nowMs, budgetMs) {
      return writing(() => {
        const more = ageing.erase(nowMs, budgetMs);
        if (!more) weights.forgetOldDays(dayOfHour(hourOf(nowMs)));
        return more;
      });
    },
    weights: () => translated(async () => loggerWeights.read()),
    async eraseSite(id) {
      erase(() => erasing.eraseSite(id));
    },
    async eraseLogger(id) {
      erase(() => erasing.eraseLogger(id));
    },
    revision: () => changes.get() as number,
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
      const told = failing ?? damage;
      return {
        state: told ? 'failing' : 'ok',
        message: told && `${told.message} ${told.hint}`,
        sealing: sealing.waiting(clock.nowMs()),
        bytes: fileBytes(path) + fileBytes(`${path}-wal`),
        freeBytes: freeBytes(path),
        bytesPerDay: growthOf(loggerWeights.read()),
      };
    },
    async close() {
      if (!database.open) return;
      await log.close();
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

function growthOf(weights: ReadonlyMap<string, LoggerWeight>): number | undefined {
  const growing = [...weights.values()].flatMap(({ bytesPerDay }) => bytesPerDay ?? []);
  return growing.length === 0 ? undefined : growing.reduce((sum, bytes) => sum + bytes, 0);
}

function freeBytes(path: string): number | undefined {
  try {
    const { bavail, bsize } = statfsSync(path);
    return bavail * bsize;
  } catch {
    return undefined;
  }
}

function fileBytes(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}

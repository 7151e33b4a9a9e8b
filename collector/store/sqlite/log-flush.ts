import { closeSync, fdatasync, openSync } from 'node:fs';
import { Problem } from '../../model/problem.ts';
import type { SqliteDatabase } from './open-database.ts';

/*
 * A commit is durable once the write-ahead log is on the disk. SQLite can wait for that itself (synchronous = FULL), but
 * the whole program stands still meanwhile: half a millisecond here, tens of them on a memory card. So samples are
 * committed without waiting (NORMAL), the log is told to the disk from a thread of the pool, and only then does the
 * commit count; meanwhile the next messages are read. What the log holds and its checkpoints are the same in both ways
 * (SQLite, "Write-Ahead Logging", section 2.3: NORMAL syncs the log before each checkpoint and its header).
 */
export interface LogFlush {
  /** Runs `commit` (one transaction) and resolves with its result once it is on the disk. */
  durably<Result>(commit: () => Result): Promise<Result>;
  /** Resolves when nothing is on its way to the disk. */
  close(): Promise<void>;
}

export function createLogFlush(database: SqliteDatabase): LogFlush {
  let file: number | undefined;
  let flushing: Promise<void> | undefined;
  let next: Promise<void> | undefined;
  /** After a sync that failed, what the disk took is unknown, and asking again would tell nothing about it. */
  let doubtful = false;

  function flush(): Promise<void> {
    return new Promise((resolve, reject) => {
      try {
        file ??= openSync(`${database.name}-wal`, 'r+');
      } catch (error) {
        doubtful = true;
        reject(notKept(database.name, error));
        return;
      }
      fdatasync(file, (error) => {
        if (error) {
          doubtful = true;
          reject(notKept(database.name, error));
        } else resolve();
      });
    });
  }

  /** A flush that began before the commit may have missed it, so it is the next one that counts. */
  function flushed(): Promise<void> {
    if (flushing === undefined) {
      flushing = flush().finally(() => {
        flushing = undefined;
      });
      return flushing;
    }
    next ??= flushing
      .catch(() => undefined)
      .then(() => {
        next = undefined;
        return flushed();
      });
    return next;
  }

  /** Copies the whole log into the database, which is then synced: what the failed sync left in doubt is safe or refused. */
  function clearDoubt(): void {
    const [{ busy }] = database.pragma('wal_checkpoint(RESTART)') as [{ busy: number }];
    if (busy !== 0) throw notKept(database.name, 'its log is still being read');
    doubtful = false;
  }

  return {
    async durably(commit) {
      if (doubtful) clearDoubt();
      let result: ReturnType<typeof commit>;
      database.pragma('synchronous = NORMAL');
      try {
        result = commit();
      } finally {
        database.pragma('synchronous = FULL');
      }
      await flushed();
      if (doubtful) throw notKept(database.name, 'what was written just before was refused');
      return result;
    },
    async close() {
      while (flushing !== undefined) await flushing.catch(() => undefined);
      if (file !== undefined) closeSync(file);
      file = undefined;
    },
  };
}

function notKept(path: string, cause: unknown): Problem {
  const seen = cause instanceof Error ? cause.message : String(cause);
  const full = /ENOSPC|EDQUOT/.test(seen);
  return new Problem(
    full ? 'store_full' : 'store_unavailable',
    `The disk under the store ${path} does not keep what is written: ${seen}.`,
    full
      ? 'Free some space; samples that were not acknowledged are sent again and taken as soon as there is room.'
      : "Look at the disk and at the system's log (a card that wears out turns read-only); the program tries again by itself.",
    { cause },
  );
}

import { randomBytes } from 'node:crypto';
import {
  accessSync,
  chmodSync,
  constants,
  existsSync,
  mkdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { join, resolve } from 'node:path';
import { Problem } from '../model/problem.ts';
import { isLocked, lockExclusively } from './sqlite/open-database.ts';

/*
 * One server a data folder. The lock is one that the operating system keeps for the process (an exclusive SQLite lock on
 * a small file), so it is gone the moment the process is, also after kill -9 or a power cut. Who holds it stands in a
 * file beside it, which counts only while the lock is held: commands use it to go through the running server.
 */

const LOCK_FILE = 'server.lock';
const HOLDER_FILE = 'server.json';
/** A command that looks whether the folder is held reads the lock for an instant; a starting server waits that long. */
const LOCK_WAIT_MS = 500;
const TOKEN_BYTES = 32;
/** The holder's file is some 200 bytes; anything longer isn't ours. */
const LONGEST_HOLDER_FILE = 4096;

/** Who holds a data folder. */
export interface Holder {
  readonly pid: number;
  /** Where its HTTP listens, `http://127.0.0.1:8080`; undefined until it does, or for a command that works alone. */
  readonly address: string | undefined;
  /** Lets a command of the same user speak to the server; the file can be read by that user only. */
  readonly token: string;
}

export interface DataFolderHold {
  readonly folder: string;
  readonly token: string;
  /** Says where HTTP listens, once it does. */
  announce(address: string): void;
  /** Lets the folder go; calling it again does nothing. */
  release(): void;
}

/**
 * Takes the folder (made if it isn't there) for this process. Throws a Problem: `data_folder_held` says who has it,
 * `store_unavailable` that the folder can't be used.
 */
export function holdDataFolder(folder: string): DataFolderHold {
  const path = resolve(folder);
  const lock = takeLock(path);
  if (!lock) throw heldProblem(path, readHolderFile(path));
  const token = randomBytes(TOKEN_BYTES).toString('base64url');
  let held = true;
  writeHolderFile(path, { pid: process.pid, address: undefined, token });
  return {
    folder: path,
    token,
    announce(address) {
      if (held) writeHolderFile(path, { pid: process.pid, address, token });
    },
    release() {
      if (!held) return;
      held = false;
      rmSync(join(path, HOLDER_FILE), { force: true });
      lock.release();
    },
  };
}

/** Who holds the folder now, or undefined where nobody does; what a dead process left behind doesn't count. */
export function readHolder(folder: string): Holder | undefined {
  const path = resolve(folder);
  const lockFile = join(path, LOCK_FILE);
  if (!existsSync(lockFile) || !isLocked(lockFile)) return undefined;
  return readHolderFile(path);
}

function takeLock(path: string): { release(): void } | undefined {
  try {
    mkdirSync(path, { recursive: true, mode: 0o700 });
    accessSync(path, constants.W_OK);
  } catch (cause) {
    throw new Problem(
      'store_unavailable',
      `The data folder ${path} can't be used: ${(cause as Error).message}.`,
      'Name a folder that can be written, for example --data ./mainsdiary-data.',
      { cause },
    );
  }
  return lockExclusively(join(path, LOCK_FILE), LOCK_WAIT_MS);
}

function heldProblem(path: string, holder: Holder | undefined): Problem {
  const who = holder ? `process ${holder.pid}${holder.address ? ` at ${holder.address}` : ''}` : 'another process';
  return new Problem(
    'data_folder_held',
    `The data folder ${path} is held by ${who}.`,
    'Stop that one first, or name another folder with --data.',
    { details: { folder: path, pid: holder?.pid, address: holder?.address } },
  );
}

function writeHolderFile(path: string, holder: Holder): void {
  const target = join(path, HOLDER_FILE);
  const fresh = `${target}.${process.pid}`;
  writeFileSync(fresh, JSON.stringify(holder), { mode: 0o600 });
  // An older file of that name would keep its rights.
  chmodSync(fresh, 0o600);
  renameSync(fresh, target);
}

function readHolderFile(path: string): Holder | undefined {
  try {
    const text = readFileSync(join(path, HOLDER_FILE), 'utf8').slice(0, LONGEST_HOLDER_FILE);
    const seen: unknown = JSON.parse(text);
    if (typeof seen !== 'object' || seen === null) return undefined;
    const { pid, address, token } = seen as Record<string, unknown>;
    if (typeof pid !== 'number' || typeof token !== 'string') return undefined;
    return { pid, address: typeof address === 'string' ? address : undefined, token };
  } catch {
    // Not written yet, or half of it: the lock alone then says that somebody is there.
    return undefined;
  }
}

import { closeSync, fsyncSync, openSync, readFileSync, renameSync, statSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { Problem } from '../../collector/model/problem.ts';
import { hashPassword } from './password-hash.ts';

/** Who may use the page from elsewhere: the owner's password and the sessions that it opened, in the data folder. */
const schema = z.object({
  owner: z
    .object({
      salt: z.string(),
      hash: z.string(),
      cost: z.number().int(),
      blockSize: z.number().int(),
      parallelization: z.number().int(),
    })
    .nullable(),
  sessions: z.array(z.object({ sha256: z.string(), expiresMs: z.number() })),
});

export type AccessRecord = z.output<typeof schema>;

export const PASSWORD_MIN_LENGTH = 10;
export const PASSWORD_MAX_LENGTH = 1024;
const FILE_NAME = 'access.json';
const EMPTY: AccessRecord = { owner: null, sessions: [] };

/**
 * Reads the file; a missing one is an empty record.
 * @throws Problem `access_unreadable` where it can't be read or understood: then nobody is let in.
 */
export function readAccess(folder: string): AccessRecord {
  let text: string;
  try {
    text = readFileSync(join(folder, FILE_NAME), 'utf8');
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT') return EMPTY;
    throw unreadable(folder, cause);
  }
  try {
    return schema.parse(JSON.parse(text));
  } catch (cause) {
    throw unreadable(folder, cause);
  }
}

/** Replaces the file in one step, readable by its owner alone; a power cut leaves the old or the new one. */
export function writeAccess(folder: string, record: AccessRecord): void {
  const target = join(folder, FILE_NAME);
  const draft = `${target}.new`;
  const file = openSync(draft, 'w', 0o600);
  try {
    writeSync(file, `${JSON.stringify(record, undefined, 1)}\n`);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
  renameSync(draft, target);
}

/** Changes when the file does, so that a running server sees a password set by a command. */
export function accessStamp(folder: string): string {
  try {
    const stat = statSync(join(folder, FILE_NAME));
    return `${stat.mtimeMs} ${stat.size} ${stat.ino}`;
  } catch {
    return 'none';
  }
}

export function ownerPasswordExists(folder: string): boolean {
  return readAccess(folder).owner !== null;
}

/**
 * Sets the owner's password and ends every session.
 * @throws Problem `password_unfit` where it is shorter than 10 characters or longer than 1024.
 */
export async function setOwnerPassword(folder: string, password: string): Promise<void> {
  if (password.length < PASSWORD_MIN_LENGTH || password.length > PASSWORD_MAX_LENGTH)
    throw new Problem(
      'password_unfit',
      `The password has ${password.length} characters; it needs ${PASSWORD_MIN_LENGTH} to ${PASSWORD_MAX_LENGTH}`,
      'Four or five words that have nothing to do with one another make a good one',
    );
  writeAccess(folder, { owner: await hashPassword(password), sessions: [] });
}

function unreadable(folder: string, cause: unknown): Problem {
  return new Problem(
    'access_unreadable',
    `${FILE_NAME} in the data folder ${folder} can't be read`,
    `Give this program's user the right to read it, or remove the file and set the password again with mainsdiary password`,
    { cause },
  );
}

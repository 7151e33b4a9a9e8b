import { constants, copyFileSync, existsSync, linkSync, renameSync, rmSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import type { Channel } from '../../model/channel.ts';
import { formatRfc3339 } from '../../model/instant.ts';
import { Problem } from '../../model/problem.ts';
import type { EpochMs } from '../../model/units.ts';
import { channelOfNumber } from '../hours.ts';
import type { RecordCheck, UpkeepProgress } from '../record-check.ts';
import { flush } from './copy-record.ts';
import { emptyLog, isOwnFile, openDatabase, openPlainFile, type SqliteDatabase, translating } from './open-database.ts';
import { STORE_FILE } from './open-store.ts';
import { runUpkeepTask } from './record-upkeep.ts';

/** What a record holds of one channel. */
export interface RecordedChannel {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly lastMs: EpochMs;
  readonly count: number;
}

export interface Restored {
  readonly check: RecordCheck;
  readonly channels: readonly RecordedChannel[];
  /** Where the record that was there before lies now; undefined where there was none. */
  readonly keptAside: string | undefined;
}

/**
 * Puts the copy `file` in the place of the record in `folder`, which the caller holds. The copy is checked whole first;
 * the file itself isn't touched. What was in its place is kept aside under a name with the date.
 * Throws a Problem and has then changed nothing: `backup_damaged`, `store_newer`, `unreadable_file`, `record_newer` where
 * the record there holds more and `replace` isn't set, and the store's own.
 */
export async function restoreRecord(
  folder: string,
  file: string,
  options: { replace: boolean; nowMs: EpochMs },
  onProgress: (progress: UpkeepProgress) => void,
): Promise<Restored> {
  const place = join(folder, STORE_FILE);
  const fresh = join(folder, `restoring-${process.pid}.db`);
  try {
    copyIn(file, fresh);
    const { check, channels } = await examine(fresh, file, onProgress);
    const keptAside = existsSync(place) ? asideName(place, options.nowMs) : undefined;
    if (keptAside !== undefined) {
      const there = readPresent(place);
      if (!options.replace) refuseNewer(there, channels, file);
      setAside(place, keptAside);
    }
    for (const suffix of ['-wal', '-shm']) rmSync(`${place}${suffix}`, { force: true });
    renameSync(fresh, place);
    flush(folder);
    return { check, channels, keptAside };
  } finally {
    for (const suffix of ['', '-journal', '-wal', '-shm']) rmSync(`${fresh}${suffix}`, { force: true });
  }
}

function copyIn(file: string, fresh: string): void {
  try {
    if (!statSync(file).isFile()) throw new Error('it is no file');
    copyFileSync(file, fresh, constants.COPYFILE_EXCL);
  } catch (cause) {
    const { code, message } = cause as NodeJS.ErrnoException;
    if (code === 'ENOSPC')
      throw new Problem(
        'store_full',
        `The disk of the data folder has no room for a copy of ${JSON.stringify(basename(file))}.`,
        'Free some space, then restore again; nothing was changed.',
        { cause },
      );
    throw new Problem(
      'unreadable_file',
      `The file ${JSON.stringify(basename(file))} can't be read (${code ?? message}).`,
      'Check the name and that you may read it.',
      { cause },
    );
  }
}

/** Opens the copy as the program would, brings it up to date, and checks all of it. */
async function examine(fresh: string, file: string, onProgress: (progress: UpkeepProgress) => void) {
  const name = JSON.stringify(basename(file));
  let channels: RecordedChannel[];
  try {
    const plain = openPlainFile(fresh, { readOnly: true });
    try {
      // A database without this mark would be taken for a new, empty store.
      if (!translating(fresh, () => isOwnFile(plain))) throw damaged(name, 'it is no backup of this program');
    } finally {
      plain.close();
    }
    const database = openDatabase(fresh);
    try {
      channels = recordedChannels(database);
    } finally {
      database.close();
    }
  } catch (error) {
    if (error instanceof Problem && (error.code === 'store_newer' || error.code === 'backup_damaged')) throw error;
    // The store's own words name the copy, which nobody has heard of.
    const told = error instanceof Problem && error.cause instanceof Error ? error.cause : error;
    throw damaged(name, told instanceof Error ? told.message : String(told), error);
  }
  const check = (await runUpkeepTask({ kind: 'check', path: fresh }, onProgress))!;
  const [first] = check.faults;
  if (first) {
    const where = [first.loggerId, first.channel, first.hourMs === undefined ? undefined : formatRfc3339(first.hourMs)];
    const place = where.filter((part) => part !== undefined).join(', ');
    throw damaged(name, `${check.faultCount} faults, the first ${place ? `at ${place}: ` : ''}${first.seen}`);
  }
  flush(fresh);
  return { check, channels };
}

function damaged(name: string, seen: string, cause?: unknown): Problem {
  return new Problem(
    'backup_damaged',
    `The backup ${name} is damaged: ${seen.replace(/\.$/, '')}.`,
    'Use another backup. Nothing was changed.',
    cause === undefined ? {} : { cause },
  );
}

/**
 * What the record in place holds; undefined where it can't be read. It is read first, because opening a damaged file for
 * writing may cost it its log.
 */
function readPresent(place: string): RecordedChannel[] | undefined {
  try {
    const reader = openPlainFile(place, { readOnly: true });
    try {
      if (!isOwnFile(reader)) return undefined;
      recordedChannels(reader);
    } finally {
      reader.close();
    }
    const database = openDatabase(place);
    try {
      emptyLog(database);
      return recordedChannels(database);
    } finally {
      database.close();
    }
  } catch {
    return undefined;
  }
}

export function recordedChannels(database: SqliteDatabase): RecordedChannel[] {
  const rows = database
    .prepare(
      'select id, channel, at_ms, sample_count from latest join logger_number on number = logger order by id, channel',
    )
    .all() as { id: string; channel: number; at_ms: number; sample_count: number }[];
  return rows.flatMap(({ id, channel, at_ms: lastMs, sample_count: count }) => {
    const known = channelOfNumber(channel);
    return known ? [{ loggerId: id, channel: known, lastMs, count }] : [];
  });
}

function refuseNewer(
  there: readonly RecordedChannel[] | undefined,
  backup: readonly RecordedChannel[],
  file: string,
): void {
  const hint = 'With --replace it is put back all the same; the record that is there is kept aside.';
  if (!there)
    throw new Problem(
      'record_newer',
      "The record that is there can't be read, so it may be newer than the backup.",
      hint,
    );
  const newer = there.flatMap((now) => {
    const then = backup.find((other) => other.loggerId === now.loggerId && other.channel === now.channel);
    if (then && then.lastMs >= now.lastMs && then.count >= now.count) return [];
    const had = then ? `${formatRfc3339(then.lastMs)}, ${then.count} samples` : 'nothing';
    return [`${now.loggerId} ${now.channel}: ${formatRfc3339(now.lastMs)}, ${now.count} samples (backup: ${had})`];
  });
  if (newer.length === 0) return;
  const shown = newer.slice(0, 10).join('; ');
  const more = newer.length > 10 ? `; and ${newer.length - 10} more` : '';
  throw new Problem(
    'record_newer',
    `The record that is there holds more than ${JSON.stringify(basename(file))}: ${shown}${more}.`,
    hint,
    { details: { newer: newer.length } },
  );
}

/** Gives the record a second name, so that at no instant there is none. The log of one that can't be read goes along. */
function setAside(place: string, aside: string): void {
  for (const suffix of ['-wal', '-shm']) {
    if (existsSync(`${place}${suffix}`)) renameSync(`${place}${suffix}`, `${aside}${suffix}`);
  }
  try {
    linkSync(place, aside);
  } catch {
    // A file system without second names: for an instant it has only the new one.
    renameSync(place, aside);
  }
}

/** A name that nothing has yet: an earlier record kept aside must never be lost to a later one. */
function asideName(place: string, nowMs: EpochMs): string {
  const name = `${place}.replaced-${formatRfc3339(nowMs).replaceAll(':', '-')}`;
  let free = name;
  for (let number = 2; existsSync(free); number++) free = `${name}-${number}`;
  return free;
}

import { createWriteStream, existsSync, linkSync, renameSync, rmSync, statSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Problem } from '../../collector/model/problem.ts';
import { flush } from '../../collector/store/sqlite/copy-record.ts';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { createRecordUpkeep } from '../../collector/store/sqlite/record-upkeep.ts';
import { askServer, unreachable } from './ask-server.ts';
import { type Command, textOf } from './command.ts';
import type { LocalServer } from './import-through-server.ts';
import { percent, progressLines } from './upkeep-progress.ts';
import { dataFolderOf, withDataFolder } from './with-data-folder.ts';

export const backupCommand: Command = {
  name: 'backup',
  summary: 'writes the whole record into one file, also while the program runs and samples arrive',
  positional: [
    { name: 'file', description: 'where the copy goes; it comes there whole or not at all', required: true },
  ],
  options: [
    { name: 'data', value: 'folder', description: 'data folder', fallback: './mainsdiary-data', example: '/srv/diary' },
    { name: 'replace', description: 'write over a file that is there' },
  ],
  examples: ['mainsdiary backup /media/stick/diary-2026-05-11.db'],
  async run([file], options) {
    const target = resolve(file!);
    const replace = options['replace'] === true;
    if (!replace) refuseExisting(target);
    const unfinished = `${target}.unfinished-${process.pid}`;
    try {
      const folder = textOf(options, 'data');
      await withDataFolder(folder, (way) =>
        'server' in way ? fromServer(way.server, unfinished) : fromStore(dataFolderOf(folder), unfinished),
      );
      checkStructure(unfinished);
      putInPlace(unfinished, target, replace);
    } catch (error) {
      throw asWritingProblem(target, error);
    } finally {
      for (const suffix of ['', '-journal']) rmSync(`${unfinished}${suffix}`, { force: true });
    }
    const bytes = statSync(target).size;
    process.stdout.write(`The record is in ${target}, ${megabytes(bytes)} MB. Put it back with mainsdiary restore.\n`);
    return 0;
  },
};

async function fromStore(folder: string, unfinished: string): Promise<void> {
  const tell = progressLines((done, total) => `copying: ${percent(done, total)}`);
  const upkeep = createRecordUpkeep(folder);
  await upkeep.copyTo(unfinished, ({ done, total }) => tell(done, total));
}

async function fromServer(server: LocalServer, unfinished: string): Promise<void> {
  process.stderr.write('the server copies the record\n');
  const response = await askServer(server, 'backup');
  const total = Number(response.headers['content-length']);
  let received = 0;
  const tell = progressLines((done, all) => `received: ${percent(done, all)} of ${megabytes(all)} MB`);
  const counted = new Transform({
    transform(part: Buffer, _encoding, done) {
      received += part.length;
      tell(received, total);
      done(null, part);
    },
  });
  try {
    await pipeline(response, counted, createWriteStream(unfinished, { flags: 'wx', mode: 0o600 }));
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).syscall !== undefined) throw cause;
    throw unreachable(server, `the copy broke off after ${received} of ${total} bytes`, cause);
  }
  if (received !== total) throw unreachable(server, `${received} of ${total} bytes of the copy came`, undefined);
}

/** A copy that can't be opened is none, whoever made the mistake. */
function checkStructure(file: string): void {
  const copy = openPlainFile(file, { readOnly: true });
  try {
    const answer = copy.pragma('quick_check(1)', { simple: true });
    if (answer !== 'ok')
      throw new Problem('backup_damaged', `The copy is damaged: ${answer}.`, 'Run mainsdiary check, then try again.');
  } finally {
    copy.close();
  }
}

function putInPlace(unfinished: string, target: string, replace: boolean): void {
  flush(unfinished);
  if (replace) renameSync(unfinished, target);
  else {
    try {
      // Fails where the name is taken, whoever took it in the meantime.
      linkSync(unfinished, target);
    } catch {
      refuseExisting(target);
      renameSync(unfinished, target);
    }
  }
  flush(dirname(target));
}

function refuseExisting(target: string): void {
  if (!existsSync(target)) return;
  throw new Problem(
    'file_not_written',
    `${target} is there already; nothing was written.`,
    'Name another file, or say --replace to write over it.',
  );
}

function asWritingProblem(target: string, error: unknown): unknown {
  const { code, syscall, message } = error as NodeJS.ErrnoException;
  if (error instanceof Problem || syscall === undefined) return error;
  return new Problem(
    'file_not_written',
    `${target} can't be written (${code ?? message}).`,
    'Check that its folder is there, may be written and has room.',
    { cause: error },
  );
}

function megabytes(bytes: number): string {
  return (bytes / 1e6).toFixed(1);
}

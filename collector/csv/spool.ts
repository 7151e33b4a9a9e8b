import { createWriteStream } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Problem } from '../model/problem.ts';
import { type CsvSource, fileSource } from './csv-source.ts';

/**
 * Writes a stream to a temporary file, as it came (gzip stays gzip), so that it can be read twice in bounded memory.
 * `release` removes it. Throws `spool_failed` where the folder can't take it, `upload_interrupted` where the stream breaks.
 */
export async function spool(
  input: Readable,
  folder: string = tmpdir(),
): Promise<{ source: CsvSource; release: () => Promise<void> }> {
  let held: string | undefined;
  const release = async () => {
    if (held !== undefined) await rm(held, { recursive: true, force: true });
  };
  let inputFailed = false;
  input.once('error', () => {
    inputFailed = true;
  });
  try {
    held = await mkdtemp(join(folder, 'mainsdiary-import-'));
    const path = join(held, 'upload');
    await pipeline(input, createWriteStream(path, { mode: 0o600 }));
    return { source: fileSource(path), release };
  } catch (error) {
    await release();
    input.destroy();
    const cause = error as NodeJS.ErrnoException;
    if (inputFailed || cause.code === 'ERR_STREAM_PREMATURE_CLOSE') {
      throw new Problem(
        'upload_interrupted',
        `The file broke off while it was being sent (${cause.message}).`,
        'Send it again; nothing was stored.',
        { cause },
      );
    }
    throw new Problem(
      'spool_failed',
      `The file can't be held for reading in ${folder} (${cause.code ?? cause.message}).`,
      'Free space on that disk or make the folder writable, then send the file again; nothing was stored.',
      { cause },
    );
  }
}

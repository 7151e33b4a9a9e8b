import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { temporaryFolder } from './program.ts';

/*
 * What a disk that keeps only what was synced would hold after a power cut: the program's writes are logged below it
 * (write-log.c, loaded before the C library), and played back up to any instant.
 */

/** The two files of a store, in the order of their numbers in the log. */
export const LOGGED_FILES = ['samples.db', 'samples.db-wal'] as const;
const FOLDER = 2;
const HEAD_BYTES = 18;
/** What a disk writes whole; a longer write may be there in part. */
const SECTOR_BYTES = 4096;

/** Compiles the library; undefined where there is no C compiler. */
export function compileWriteLog(): string | undefined {
  const source = fileURLToPath(new URL('./write-log.c', import.meta.url));
  const library = join(temporaryFolder(), 'write-log.so');
  const made = spawnSync('gcc', ['-shared', '-fPIC', '-O2', '-o', library, source], { encoding: 'utf8' });
  return made.status === 0 ? library : undefined;
}

/** Of a write that was not synced: none is kept, all, or each sector by chance. */
export type Kept = 'none' | 'all' | 'some';

/** The files' contents after a cut; undefined: the file is not there. */
export type DiskState = readonly (Uint8Array | undefined)[];

export interface Playback {
  /** The disk after a cut when the log had `position` bytes. Positions only ever grow. */
  diskAt(position: number, kept: Kept, random: () => number): DiskState;
  /** Syncs of a file passed so far. */
  syncs(): number;
}

type Pending =
  | { readonly kind: 'write'; readonly offset: number; readonly bytes: Uint8Array }
  | { readonly kind: 'truncate'; readonly length: number };

interface LoggedFile {
  /** Whether its name is in the folder after a cut; undefined: that may go either way. */
  named: boolean | undefined;
  content: GrowingBytes;
  pending: Pending[];
}

/** Plays a log back from its beginning. */
export function playBack(log: Uint8Array): Playback {
  const view = new DataView(log.buffer, log.byteOffset, log.byteLength);
  const files: LoggedFile[] = LOGGED_FILES.map(() => ({ named: false, content: new GrowingBytes(), pending: [] }));
  const present = LOGGED_FILES.map(() => false);
  let at = 0;
  let syncs = 0;

  function step(position: number): boolean {
    if (at + HEAD_BYTES > position) return false;
    const kind = String.fromCharCode(log[at]!);
    const number = log[at + 1]!;
    const offset = Number(view.getBigUint64(at + 2, true));
    const length = Number(view.getBigUint64(at + 10, true));
    const bytes = log.subarray(at + HEAD_BYTES, at + HEAD_BYTES + (kind === 'W' ? length : 0));
    at += HEAD_BYTES + bytes.length;
    if (number === FOLDER) {
      files.forEach((file, i) => {
        file.named = present[i];
      });
      return true;
    }
    const file = files[number]!;
    switch (kind) {
      case 'W':
        file.pending.push({ kind: 'write', offset, bytes });
        break;
      case 'T':
        file.pending.push({ kind: 'truncate', length: offset });
        break;
      case 'S':
        for (const pending of file.pending) apply(file.content, pending);
        file.pending = [];
        syncs += 1;
        break;
      case 'C':
        files[number] = { named: undefined, content: new GrowingBytes(), pending: [] };
        present[number] = true;
        break;
      case 'U':
        file.named = undefined;
        present[number] = false;
        break;
      default:
        throw new Error(`byte ${at} of the log is no record: ${kind}`);
    }
    return true;
  }

  return {
    syncs: () => syncs,
    diskAt(position, kept, random) {
      while (step(position));
      return files.map((file) => {
        const there = file.named ?? (kept === 'none' ? false : kept === 'all' || random() < 0.5);
        if (!there) return undefined;
        const content = file.content.copy();
        for (const pending of file.pending) {
          if (kept === 'all') apply(content, pending);
          else if (kept === 'some') applyInPart(content, pending, random);
        }
        return content.bytes();
      });
    },
  };
}

function apply(content: GrowingBytes, pending: Pending): void {
  if (pending.kind === 'truncate') content.truncate(pending.length);
  else content.write(pending.offset, pending.bytes);
}

function applyInPart(content: GrowingBytes, pending: Pending, random: () => number): void {
  if (pending.kind === 'truncate') {
    if (random() < 0.5) content.truncate(pending.length);
    return;
  }
  const { offset, bytes } = pending;
  for (let from = 0; from < bytes.length; ) {
    const to = Math.min(bytes.length, from + SECTOR_BYTES - ((offset + from) % SECTOR_BYTES));
    if (random() < 0.5) content.write(offset + from, bytes.subarray(from, to));
    from = to;
  }
}

class GrowingBytes {
  #buffer: Buffer;
  #length: number;

  constructor(buffer: Buffer = Buffer.alloc(1 << 16), length = 0) {
    this.#buffer = buffer;
    this.#length = length;
  }

  write(offset: number, bytes: Uint8Array): void {
    const end = offset + bytes.length;
    if (end > this.#buffer.length) {
      const larger = Buffer.alloc(2 ** Math.ceil(Math.log2(end)));
      this.#buffer.copy(larger, 0, 0, this.#length);
      this.#buffer = larger;
    }
    this.#buffer.set(bytes, offset);
    this.#length = Math.max(this.#length, end);
  }

  truncate(length: number): void {
    if (length < this.#length) this.#buffer.fill(0, length, this.#length);
    else if (length > this.#buffer.length) this.write(length - 1, new Uint8Array(1));
    this.#length = length;
  }

  copy(): GrowingBytes {
    return new GrowingBytes(Buffer.from(this.#buffer), this.#length);
  }

  bytes(): Uint8Array {
    return this.#buffer.subarray(0, this.#length);
  }
}

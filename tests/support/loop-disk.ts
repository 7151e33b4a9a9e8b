import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { copyFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { temporaryFolder } from './program.ts';

/** A small ext4 disk of its own in a file, mounted; what its file system has not written out is not in the file. */
export interface LoopDisk {
  /** Where it is mounted. */
  readonly folder: string;
  /** Copies the disk as it is under the file system: what a power cut at this instant would leave. */
  cut(target: string): Promise<void>;
  /** Makes its file system meet an error, as a failing disk does; false where the kernel can't. */
  failFileSystem(): boolean;
  /** Takes it from under whoever uses it, repairs it and mounts it at the same place. */
  mountAgain(): void;
  end(): void;
}

/** Tries of a copy during which nothing was written to the disk. */
const MOST_COPIES = 50;

/** An empty ext4 disk; undefined where this user may not mount one. `more`: options of mkfs.ext4. */
export function makeLoopDisk(megabytes: number, more: readonly string[] = []): LoopDisk | undefined {
  const image = join(temporaryFolder(), 'disk.img');
  writeFileSync(image, '');
  truncateSync(image, megabytes * 1024 * 1024);
  if (!run('mkfs.ext4', '-q', '-F', '-m', '0', ...more, image)) return undefined;
  return mountLoopDisk(image);
}

/** Mounts an image (its journal is replayed), or says undefined where that isn't allowed. */
export function mountLoopDisk(image: string): LoopDisk | undefined {
  const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-disk-'));
  if (!run('mount', '-o', 'loop', image, folder)) {
    rmSync(folder, { recursive: true });
    return undefined;
  }
  const device = spawnSync('findmnt', ['-no', 'SOURCE', folder], { encoding: 'utf8' }).stdout.trim();
  return {
    folder,
    async cut(target) {
      for (let copy = 0; copy < MOST_COPIES; copy++) {
        const before = writesTo(device);
        await copyFile(image, target);
        // A copy is of one instant only where the kernel wrote nothing back meanwhile.
        if (writesTo(device) === before) return;
      }
      throw new Error(`${device} was written to during each of ${MOST_COPIES} copies`);
    },
    failFileSystem() {
      try {
        writeFileSync(`/sys/fs/ext4/${basename(device)}/trigger_fs_error`, '1');
        return true;
      } catch {
        return false;
      }
    },
    mountAgain() {
      run('umount', folder);
      run('e2fsck', '-f', '-y', image);
      if (!run('mount', '-o', 'loop', image, folder)) throw new Error(`${image} could not be mounted again`);
    },
    end() {
      if (!run('umount', folder)) run('umount', '-l', folder);
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Whether the file system in an image is whole (e2fsck 8, exit code 0), without changing it. */
export function fileSystemFaults(image: string): string | undefined {
  const { status, stdout, stderr } = spawnSync('e2fsck', ['-f', '-n', image], { encoding: 'utf8' });
  return status === 0 ? undefined : `${stdout}${stderr}`;
}

/** Writes finished, and input and output under way (Documentation/block/stat.rst, fields 5 and 9). */
function writesTo(device: string): string {
  const fields = readFileSync(`/sys/block/${basename(device)}/stat`, 'utf8')
    .trim()
    .split(/\s+/);
  return `${fields[4]} ${fields[8]}`;
}

function run(command: string, ...parameters: string[]): boolean {
  return spawnSync(command, parameters, { encoding: 'utf8' }).status === 0;
}

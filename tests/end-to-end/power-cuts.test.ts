import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { createRecordUpkeep } from '../../collector/store/sqlite/record-upkeep.ts';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { fileSystemFaults, type LoopDisk, makeLoopDisk, mountLoopDisk } from '../support/loop-disk.ts';
import { eventually, startProgram, temporaryFolder } from '../support/program.ts';
import { compileWriteLog, type Kept, LOGGED_FILES, playBack } from '../support/write-log.ts';
import { differences, startLoad } from './load-with-record.ts';

/** Cuts below the file system; POWER_CUTS asks for more. */
const CUTS = Number(process.env['POWER_CUTS'] ?? 5);
/** Instants tried in one log of writes: cheaper, so more of them. */
const LOGGED_CUTS = Math.max(30, CUTS);
/** Enough for the write-ahead log to be emptied into the store several times meanwhile. */
const LOGGED_SAMPLES = Math.max(40_000, LOGGED_CUTS * 200);
const KEPT: readonly Kept[] = ['none', 'some', 'all', 'some'];
const SEED = 20260506;
const LIMIT_MS = 120_000 + CUTS * 10_000;

const endings: (() => Promise<unknown> | unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

function smallDisk(context: { skip(): void }): LoopDisk | undefined {
  const disk = makeLoopDisk(128);
  if (disk) endings.push(() => disk.end());
  else {
    console.log('skipped: a disk to be cut off needs root, mkfs.ext4 (e2fsprogs) and loop devices');
    context.skip();
  }
  return disk;
}

describe('a power cut below the file system, under load', () => {
  it('the cut itself: a file that was synced is in it, one that was only written is not', async (context) => {
    const disk = smallDisk(context);
    if (!disk) return;
    for (const name of ['synced', 'written']) {
      const file = await open(join(disk.folder, name), 'w');
      await file.write('a reading');
      if (name === 'synced') await file.sync();
      await file.close();
    }
    const image = join(temporaryFolder(), 'cut.img');
    await disk.cut(image);
    const cut = mountLoopDisk(image)!;
    endings.push(() => cut.end());
    expect(readFileSync(join(cut.folder, 'synced'), 'utf8')).toBe('a reading');
    expect(existsSync(join(cut.folder, 'written')) && readFileSync(join(cut.folder, 'written'), 'utf8')).toBeFalsy();
  });

  it(
    `${CUTS} cuts of an ext4 disk (seed ${SEED}): its journal is replayed, the file system is whole, every sample acknowledged before is there once`,
    async (context) => {
      const disk = smallDisk(context);
      if (!disk) return;
      const program = await startProgram({ folder: join(disk.folder, 'data') });
      endings.push(() => program.kill());
      const key = await addLogger(program.base, await addSite(program.base), 'front-hall');
      const load = await startLoad(program.mqttPort, 'front-hall', key);
      const image = join(temporaryFolder(), 'cut.img');
      const random = numbersFrom(SEED);
      let unsynced = 0;
      for (let cut = 0; cut < CUTS; cut++) {
        const which = `cut ${cut} of seed ${SEED}`;
        await load.more(Math.floor(random() * 900));
        await new Promise((resolve) => setTimeout(resolve, Math.floor(random() * 30)));
        program.process.kill('SIGSTOP');
        await eventually(
          async () => stoppedThreads(program.process.pid!),
          (all) => all,
        );
        await disk.cut(image);
        // Whatever has come by now was acknowledged before the program stood still.
        const before = new Map(load.acknowledged);
        const dirty = load.sent.size - before.size;
        program.process.kill('SIGCONT');

        const cutDisk = mountLoopDisk(image);
        expect(cutDisk, which).toBeDefined();
        const folder = join(cutDisk!.folder, 'data');
        await expectWhole(folder, { ...load, acknowledged: before }, which);
        cutDisk!.end();
        expect(fileSystemFaults(image), which).toBeUndefined();
        if (dirty > 0) unsynced += 1;
        // The last one is taken up by the program itself.
        if (cut === CUTS - 1) await expectServed(image, { ...load, acknowledged: before });
      }
      await load.stop();
      expect(differences(load, await exportedSamples(program.base, 'front-hall'))).toEqual([]);
      expect(await program.stop()).toBe(0);
      console.log(
        `${CUTS} cuts of the disk (${unsynced} with messages under way), ${load.acknowledged.size} samples acknowledged, none lost or doubled`,
      );
    },
    LIMIT_MS,
  );
});

describe('a disk that keeps only what was synced, under load', () => {
  it('the playback itself: a write is there for certain once its file and the folder were synced after it', () => {
    const record = (kind: string, file: number, offset = 0, bytes = '') => {
      const head = Buffer.alloc(18);
      head.write(kind, 0);
      head[1] = file;
      head.writeBigUInt64LE(BigInt(offset), 2);
      head.writeBigUInt64LE(BigInt(bytes.length), 10);
      return Buffer.concat([head, Buffer.from(bytes)]);
    };
    const steps = [record('C', 0), record('W', 0, 0, 'abcd'), record('S', 0), record('D', 2), record('W', 0, 2, 'XYZ')];
    const at = (count: number, kept: Kept) => {
      const [store] = playBack(Buffer.concat(steps)).diskAt(
        Buffer.concat(steps.slice(0, count)).length,
        kept,
        numbersFrom(SEED),
      );
      return store && Buffer.from(store).toString();
    };
    expect([2, 3, 4, 5].map((count) => at(count, 'none'))).toEqual([undefined, undefined, 'abcd', 'abcd']);
    expect([2, 3, 4, 5].map((count) => at(count, 'all'))).toEqual(['abcd', 'abcd', 'abcd', 'abXYZ']);
  });

  it(
    `${LOGGED_CUTS} instants anywhere in a log of all writes (seed ${SEED}), what was not synced gone, kept, or kept by chance sector by sector: every sample acknowledged before is there once`,
    async (context) => {
      const library = compileWriteLog();
      if (!library) {
        console.log('skipped: logging writes below the program needs gcc and a C library that can be preloaded');
        return context.skip();
      }
      const folder = join(temporaryFolder(), 'data');
      const logFile = join(temporaryFolder(), 'writes');
      const environment = { LD_PRELOAD: library, WRITE_LOG: logFile, WRITE_FOLDER: folder };
      const first = await startProgram({ folder, environment });
      endings.push(() => first.kill());
      const key = await addLogger(first.base, await addSite(first.base), 'front-hall');
      // An acknowledgement that came when the log had so many bytes was sent no later.
      const acknowledgedAt = new Map<number, number>();
      const note = (times: readonly number[]) => {
        const position = statSync(logFile).size;
        for (const time of times) acknowledgedAt.set(time, position);
      };
      const load = await startLoad(first.mqttPort, 'front-hall', key, note);
      await load.more(LOGGED_SAMPLES / 2);
      // A clean end and a new start in between: the write-ahead log is removed and made again.
      expect(await first.stop()).toBe(0);
      const { httpPort, mqttPort } = first;
      const second = await startProgram({ folder, httpPort, mqttPort, environment });
      endings.push(() => second.kill());
      await load.more(LOGGED_SAMPLES / 2);
      await load.stop();
      await second.kill();

      const log = readFileSync(logFile);
      const random = numbersFrom(SEED);
      const firstAt = Math.min(...acknowledgedAt.values());
      const positions = Array.from({ length: LOGGED_CUTS }, () =>
        Math.floor(firstAt + random() * (log.length - firstAt)),
      ).sort((a, b) => a - b);
      const playback = playBack(log);
      const states = temporaryFolder();
      for (const [cut, position] of positions.entries()) {
        const kept = KEPT[cut % KEPT.length]!;
        const which = `cut ${cut} at byte ${position} of ${log.length}, unsynced ${kept}, seed ${SEED}`;
        const after = join(states, String(cut));
        mkdirSync(after);
        playback.diskAt(position, kept, random).forEach((bytes, i) => {
          if (bytes) writeFileSync(join(after, LOGGED_FILES[i]!), bytes);
        });
        const acknowledged = new Map([...load.acknowledged].filter(([time]) => acknowledgedAt.get(time)! <= position));
        await expectWhole(after, { ...load, acknowledged }, which);
        rmSync(after, { recursive: true });
      }
      const end = playBack(log).diskAt(log.length, 'all', random);
      LOGGED_FILES.forEach((name, i) => {
        expect(
          end[i] && Buffer.from(end[i]).equals(readFileSync(join(folder, name))),
          `the log tells all of ${name}`,
        ).toBe(true);
      });
      console.log(
        `${LOGGED_CUTS} instants of ${log.length} logged bytes and ${playback.syncs()} syncs, ${load.acknowledged.size} samples acknowledged, none lost or doubled`,
      );
    },
    LIMIT_MS,
  );
});

/** The store in a folder opens, holds what was acknowledged and nothing invented or doubled, and passes the full check. */
async function expectWhole(folder: string, load: Parameters<typeof differences>[0], which: string): Promise<void> {
  const store = await openSqliteStore({ folder, clock: { nowMs: () => Date.now() } });
  const stored: [number, number][] = [];
  for await (const run of store.runs('front-hall', 'pressure', 0, 4e12))
    run.timeMs.forEach((time, i) => {
      stored.push([time, run.value[i]!]);
    });
  expect(differences(load, stored), which).toEqual([]);
  expect((await createRecordUpkeep(folder).check(() => undefined)).faults, which).toEqual([]);
  await store.close();
}

async function expectServed(image: string, load: Parameters<typeof differences>[0]): Promise<void> {
  const disk = mountLoopDisk(image)!;
  endings.push(() => disk.end());
  const program = await startProgram({ folder: join(disk.folder, 'data') });
  endings.push(() => program.kill());
  expect(differences(load, await exportedSamples(program.base, 'front-hall'))).toEqual([]);
  expect(await program.stop()).toBe(0);
  rmSync(image);
}

/** Whether every thread of a process stands still (state T, proc(5)); one in the midst of a write ends it first. */
function stoppedThreads(pid: number): boolean {
  return readdirSync(`/proc/${pid}/task`).every((thread) =>
    /\) [Tt] /.test(readFileSync(`/proc/${pid}/task/${thread}/stat`, 'utf8')),
  );
}

function numbersFrom(seed: number): () => number {
  // Lehmer's generator (Park and Miller 1988).
  let state = seed;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

import { spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { createRecordUpkeep } from '../../collector/store/sqlite/record-upkeep.ts';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { eventually, type RunningProgram, runCommand, startProgram, temporaryFolder } from '../support/program.ts';
import { differences, startLoad } from './load-with-record.ts';

/** Instants at which the process is stopped and its files are copied; POWER_CUTS asks for more. */
const INSTANTS = Number(process.env['POWER_CUTS'] ?? 20);
const SEED = 20260505;
const LIMIT_MS = 300_000 + INSTANTS * 5_000;

const endings: (() => Promise<unknown> | unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

async function withLoad(folder: string) {
  const program = await startProgram({ folder });
  endings.push(() => program.kill());
  const key = await addLogger(program.base, await addSite(program.base), 'front-hall');
  return { program, load: await startLoad(program.mqttPort, 'front-hall', key) };
}

interface Health {
  readonly code: number;
  readonly status: string;
}
async function health(program: RunningProgram): Promise<Health> {
  const response = await fetch(`${program.base}/api/health`);
  return { code: response.status, status: ((await response.json()) as { status: string }).status };
}

/** The fault is over: health is well again, and everything acknowledged is there once. */
async function endsWhole({ program, load }: Awaited<ReturnType<typeof withLoad>>): Promise<void> {
  await eventually(
    () => health(program),
    ({ code }) => code === 200,
  );
  await load.stop();
  expect(differences(load, await exportedSamples(program.base, 'front-hall'))).toEqual([]);
  expect(await program.stop()).toBe(0);
}

const run = (command: string, ...parameters: string[]) =>
  spawnSync(command, parameters, { encoding: 'utf8' }).status === 0;

function skip(context: { skip(): void }, why: string): void {
  console.log(`skipped: ${why}`);
  context.skip();
}

/** A small disk of its own, in memory; undefined where it can't be mounted. */
function smallDisk(megabytes: number): string | undefined {
  const folder = temporaryFolder();
  if (!run('mount', '-t', 'tmpfs', '-o', `size=${megabytes}m`, 'tmpfs', folder)) return undefined;
  endings.push(() => run('umount', '-l', folder));
  return folder;
}

describe('faults of the machine, under load', () => {
  it(
    'a full disk: health says so and what to do, nothing acknowledged is lost or doubled, and intake goes on once there is room',
    async (context) => {
      const disk = smallDisk(12);
      if (!disk) return skip(context, 'a disk that fills needs root and mount (tmpfs)');
      const { program, load } = await withLoad(join(disk, 'data'));
      await load.more(500);
      // A neighbour takes what is left.
      const left = 12 * 1024 * 1024;
      try {
        for (let part = 0; part < left / 65_536; part++)
          writeFileSync(join(disk, 'neighbour'), Buffer.alloc(65_536), { flag: 'a' });
      } catch {
        // Full.
      }
      const told = await eventually(
        () => health(program),
        ({ code }) => code === 503,
      );
      expect(told.status).toMatch(/storing fails: The disk that holds .* is full.*Free some space/);
      const before = load.acknowledged.size;
      rmSync(join(disk, 'neighbour'));
      await load.more(500);
      expect(load.acknowledged.size).toBeGreaterThanOrEqual(before + 500);
      await endsWhole({ program, load });
    },
    LIMIT_MS,
  );

  it(
    'a store locked by another program: told in health, which still answers, and over as soon as the lock is',
    async () => {
      const { program, load } = await withLoad(temporaryFolder());
      await load.more(500);
      const other = openPlainFile(join(program.folder, 'samples.db'));
      other.exec('begin immediate');
      const told = await eventually(
        () => health(program),
        ({ code }) => code === 503,
      );
      expect(told.status).toMatch(/is locked by another program.*Find and end the program/);
      other.exec('rollback');
      other.close();
      await load.more(500);
      await endsWhole({ program, load });
    },
    LIMIT_MS,
  );

  it(
    'a disk that refuses to be written for a while: told in health, and over as soon as it takes writes again',
    async (context) => {
      const { program, load } = await withLoad(temporaryFolder());
      await load.more(500);
      // An immutable file refuses writes also through a handle that is open, as a failing card does.
      const files = ['samples.db', 'samples.db-wal'].map((name) => join(program.folder, name));
      const thaw = () => run('chattr', '-i', ...files);
      endings.push(thaw);
      if (!run('chattr', '+i', ...files)) {
        await load.stop();
        return skip(context, 'a file that refuses writes needs root and chattr on a file system that has it');
      }
      const told = await eventually(
        () => health(program),
        ({ code }) => code === 503,
      );
      expect(told.status).toMatch(/storing fails: The (disk under the store|store) .*(Look at the disk|Check that)/);
      thaw();
      await load.more(500);
      await endsWhole({ program, load });
    },
    LIMIT_MS,
  );

  it('a read-only file system at the start: refused with what to do', async (context) => {
    const disk = smallDisk(4);
    if (disk) mkdirSync(join(disk, 'data'));
    if (!disk || !run('mount', '-o', 'remount,ro', disk))
      return skip(context, 'a read-only disk needs root and mount (tmpfs)');
    const started = await runCommand(['serve', '--data', join(disk, 'data'), '--http-port', '0', '--mqtt-port', '0']);
    expect(started).toMatchObject({
      code: 1,
      stderr: expect.stringMatching(/The data folder .* can't be used.*EROFS/),
    });
    expect(started.stderr).toMatch(/--data/);
  });

  it(
    `a power cut at ${INSTANTS} instants (files copied while the process stands, seed ${SEED}): every sample acknowledged before is in the copy, which is whole`,
    async () => {
      const { program, load } = await withLoad(temporaryFolder());
      let state = SEED;
      const random = () => {
        // Lehmer's generator (Park and Miller 1988).
        state = (state * 48271) % 2147483647;
        return state / 2147483647;
      };
      const copies = temporaryFolder();
      for (let instant = 0; instant < INSTANTS; instant++) {
        await load.more(50 + Math.floor(random() * 600));
        await new Promise((resolve) => setTimeout(resolve, Math.floor(random() * 20)));
        program.process.kill('SIGSTOP');
        const before = new Map(load.acknowledged);
        const folder = join(copies, String(instant));
        mkdirSync(folder);
        for (const name of ['samples.db', 'samples.db-wal']) {
          const file = join(program.folder, name);
          if (existsSync(file)) copyFileSync(file, join(folder, name));
        }
        program.process.kill('SIGCONT');
        const store = await openSqliteStore({ folder, clock: { nowMs: () => Date.now() } });
        const stored: [number, number][] = [];
        for await (const sample of store.runs('front-hall', 'pressure', 0, 4e12))
          sample.timeMs.forEach((time, i) => {
            stored.push([time, sample.value[i]!]);
          });
        const cut = { ...load, acknowledged: before };
        expect(differences(cut, stored), `instant ${instant} of seed ${SEED}`).toEqual([]);
        expect((await createRecordUpkeep(folder).check(() => undefined)).faults).toEqual([]);
        await store.close();
        rmSync(folder, { recursive: true });
      }
      await load.stop();
      expect(differences(load, await exportedSamples(program.base, 'front-hall'))).toEqual([]);
      console.log(`${INSTANTS} instants, ${load.acknowledged.size} samples acknowledged, none lost or doubled`);
    },
    LIMIT_MS,
  );
});

import { readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, describe, expect, it } from 'vitest';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { DESK, launchBrowser, openPage, PHONE, type WatchedPage } from '../support/browser.ts';
import { makeLoopDisk } from '../support/loop-disk.ts';
import { findProgram } from '../support/outside-programs.ts';
import { eventually, type RunningProgram, runCommand, startProgram, temporaryFolder } from '../support/program.ts';
import { compileWriteLog } from '../support/write-log.ts';
import { differences, type Load, startLoad } from './load-with-record.ts';

const LIMIT_MS = 300_000;
/** Where pictures of the page go, for whoever wants to look at them. */
/** How the page begins what it says of a store that fails; of a disk that fills it may still speak. */
const FAILING = 'Samples can’t be stored';
const PICTURES = process.env['FAULT_PICTURES'];

let browser: Browser | undefined;
const endings: (() => Promise<unknown> | unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});
afterAll(() => browser?.close());

async function started(folder: string, environment: Record<string, string> = {}) {
  const program = await startProgram({ folder, environment });
  endings.push(() => program.kill());
  const key = await addLogger(program.base, await addSite(program.base), 'front-hall');
  return { program, load: await startLoad(program.mqttPort, 'front-hall', key) };
}

/** The page as an owner has it open, or undefined where there is no browser. */
async function watched(program: RunningProgram): Promise<WatchedPage | undefined> {
  if (!findProgram('chromium')) {
    console.log('skipped: what the page says needs chromium');
    return undefined;
  }
  browser ??= await launchBrowser();
  const page = await openPage(browser, program.base, { viewport: PHONE });
  endings.push(() => page.close());
  await page.go('/');
  return page;
}

async function expectTold(program: RunningProgram, words: RegExp, page: WatchedPage | undefined, name: string) {
  const told = await eventually(
    () => health(program),
    ({ code }) => code === 503,
  );
  expect(told.status).toMatch(words);
  if (!page) return;
  await expect.poll(() => page.page.locator('#program-note').textContent(), { timeout: 60_000 }).toMatch(words);
  if (!PICTURES) return;
  for (const viewport of [PHONE, DESK]) {
    await page.page.setViewportSize(viewport);
    await page.page.screenshot({ path: join(PICTURES, `${name}-${viewport.width}.png`) });
  }
}

async function expectWellAgain(program: RunningProgram, load: Load, page: WatchedPage | undefined) {
  await load.more(500);
  await eventually(
    () => health(program),
    ({ code }) => code === 200,
  );
  if (page)
    await expect
      .poll(() => page.page.locator('#program-note').textContent(), { timeout: 60_000 })
      .not.toContain(FAILING);
}

async function expectNothingLost(program: RunningProgram, load: Load) {
  await load.stop();
  expect(differences(load, await exportedSamples(program.base, 'front-hall'))).toEqual([]);
}

async function health(program: RunningProgram) {
  const response = await fetch(`${program.base}/api/health`);
  return { code: response.status, status: ((await response.json()) as { status: string }).status };
}

function fill(file: string): void {
  for (const size of [1024 * 1024, 4096, 1]) {
    try {
      for (;;) writeFileSync(file, Buffer.alloc(size), { flag: 'a' });
    } catch (error) {
      expect((error as NodeJS.ErrnoException).code).toBe('ENOSPC');
    }
  }
}

function skipped(context: { skip(): void }, why: string): void {
  console.log(`skipped: ${why}`);
  context.skip();
}

describe('a disk of its own that fails, under load', () => {
  it(
    'full to the last byte, twice: told in health and on the page, a start on it says what to do, and intake goes on once there is room',
    async (context) => {
      const disk = makeLoopDisk(48);
      if (!disk) return skipped(context, 'a disk that fills needs root, mkfs.ext4 (e2fsprogs) and loop devices');
      endings.push(() => disk.end());
      const { program, load } = await started(join(disk.folder, 'data'));
      const page = await watched(program);
      const neighbour = join(disk.folder, 'neighbour');
      for (const time of ['first', 'second']) {
        await load.more(time === 'first' ? 500 : 3000);
        fill(neighbour);
        await expectTold(program, /The disk that holds .* is full.*Free some space/, page, `full-${time}`);
        rmSync(neighbour);
        await expectWellAgain(program, load, page);
      }
      await load.more(500);
      fill(neighbour);
      await program.kill();
      const again = await runCommand([
        'serve',
        ...['--data', program.folder, '--http-port', '0', '--mqtt-port', '0', '--log-level', 'silent'],
      ]);
      expect(again).toMatchObject({ code: 1, stderr: expect.stringMatching(/full|ENOSPC/) });
      rmSync(neighbour);
      const { folder, httpPort, mqttPort } = program;
      const next = await startProgram({ folder, httpPort, mqttPort });
      endings.push(() => next.kill());
      await expectWellAgain(next, load, undefined);
      await expectNothingLost(next, load);
      expect(await next.stop()).toBe(0);
    },
    LIMIT_MS,
  );

  it.each([
    ['EIO', 5, 'every write and sync fails', /The disk under the store .* (fails|does not keep).*Look at the disk/],
    [
      'EROFS',
      30,
      'the file system has turned read-only',
      /The (disk under the )?store .* (fails|does not keep|can't be written)/,
    ],
    ['ENOSPC', 28, 'there is no room', /The disk that holds .* is full.*Free some space/],
    ['EIO sync', 5, 'only the syncs fail', /The disk under the store .* (fails|does not keep).*Look at the disk/],
  ])(
    '%s below the running program (%i, %s): told, nothing acknowledged, and over as soon as it ends',
    async (fault, errno, _why, words) => {
      const library = compileWriteLog();
      if (!library) {
        console.log('skipped: faults below the program need gcc');
        return;
      }
      const faultFile = join(temporaryFolder(), 'fault');
      const { program, load } = await started(join(temporaryFolder(), 'data'), {
        LD_PRELOAD: library,
        WRITE_FAULT: faultFile,
      });
      await load.more(500);
      writeFileSync(faultFile, fault.endsWith('sync') ? `${errno} sync` : `${errno}`);
      await expectTold(program, words, undefined, fault);
      const before = load.acknowledged.size;
      await eventually(
        () => health(program),
        ({ code }) => code === 503,
      );
      expect(load.acknowledged.size).toBe(before);
      rmSync(faultFile);
      await expectWellAgain(program, load, undefined);
      await expectNothingLost(program, load);
      expect(await program.stop()).toBe(0);
      expect((await runCommand(['check', '--data', program.folder])).code).toBe(0);
    },
    LIMIT_MS,
  );

  it(
    'a fault that ends while nobody sends: health and the page say so by themselves',
    async () => {
      const program = await startProgram();
      endings.push(() => program.kill());
      const key = await addLogger(program.base, await addSite(program.base), 'front-hall');
      const load = await startLoad(program.mqttPort, 'front-hall', key);
      const page = await watched(program);
      await load.more(100);
      const other = openPlainFile(join(program.folder, 'samples.db'));
      other.exec('begin immediate');
      await expectTold(program, /locked by another program/, page, 'locked');
      load.leave();
      // With nothing left to commit, nobody but the program itself finds out that it can store again.
      await eventually(
        async () => await (await fetch(`${program.base}/metrics`)).text(),
        (text) => /^mainsdiary_messages_waiting\S* 0$/m.test(text),
      );
      other.exec('rollback');
      other.close();
      await eventually(
        () => health(program),
        ({ code }) => code === 200,
      );
      if (page)
        await expect
          .poll(() => page.page.locator('#program-note').textContent(), { timeout: 60_000 })
          .not.toContain(FAILING);
      expect(await program.stop()).toBe(0);
    },
    LIMIT_MS,
  );

  it(
    'an ext4 that turns read-only by itself after an error: told; mounted again, it holds what was acknowledged',
    async (context) => {
      const disk = makeLoopDisk(64, ['-e', 'remount-ro']);
      if (!disk) return skipped(context, 'a disk that turns read-only needs root, mkfs.ext4 and loop devices');
      endings.push(() => disk.end());
      const { program, load } = await started(join(disk.folder, 'data'));
      await load.more(1500);
      if (!disk.failFileSystem()) return skipped(context, 'this kernel lets no ext4 fail on demand');
      await expectTold(program, /(read-only|can't be written|fails)/, undefined, 'turned-read-only');
      const before = new Map(load.acknowledged);
      load.leave();
      await program.kill();
      disk.mountAgain();
      const { folder, httpPort, mqttPort } = program;
      const next = await startProgram({ folder, httpPort, mqttPort });
      endings.push(() => next.kill());
      expect(differences({ ...load, acknowledged: before }, await exportedSamples(next.base, 'front-hall'))).toEqual(
        [],
      );
      expect(await next.stop()).toBe(0);
      expect((await runCommand(['check', '--data', folder])).code).toBe(0);
    },
    LIMIT_MS,
  );

  it(
    'a reader that keeps its place (a backup tool): intake goes on, and the write-ahead log is short again after it',
    async () => {
      const { program, load } = await started(temporaryFolder());
      await load.more(500);
      const log = join(program.folder, 'samples.db-wal');
      const reader = openPlainFile(join(program.folder, 'samples.db'), { readOnly: true });
      reader.exec('begin');
      reader.prepare('select count(*) from tail_piece').get();
      // While its place is kept the log can only grow; past this size it is one of those that are emptied.
      while (statSync(log).size < 40 * 1024 * 1024) await load.more(1000);
      expect((await health(program)).code).toBe(200);
      reader.exec('commit');
      reader.close();
      await load.more(1000);
      await load.stop();
      await eventually(
        async () => statSync(log).size,
        (bytes) => bytes <= 16 * 1024 * 1024,
      );
      await expectNothingLost(program, load);
      expect(await program.stop()).toBe(0);
      expect(readFileSync(join(program.folder, 'samples.db')).length).toBeGreaterThan(0);
    },
    LIMIT_MS,
  );
});

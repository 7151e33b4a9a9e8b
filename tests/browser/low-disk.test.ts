import { rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite } from '../support/api.ts';
import { launchBrowser, openPage } from '../support/browser.ts';
import { type LoopDisk, makeLoopDisk } from '../support/loop-disk.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { eventually, type RunningProgram, startProgram } from '../support/program.ts';
import { isSound, LOOKS } from './form-walk.ts';

const MB = 1024 * 1024;

/** A disk of its own, on which somebody else's file takes the room that the program wants to have left. */
describe.skipIf(skipWithout('chromium'))('a disk that runs full', { timeout: 120_000 }, () => {
  let disk: LoopDisk | undefined;
  let program: RunningProgram;
  let browser: Browser;
  beforeAll(async () => {
    disk = makeLoopDisk(400);
    if (!disk) return console.log('skipped: a disk of its own needs root and loop devices');
    writeFileSync(join(disk.folder, 'else'), Buffer.alloc(150 * MB));
    program = await startProgram({ folder: join(disk.folder, 'data') });
    browser = await launchBrowser();
    const site = await addSite(program.base);
    await addLogger(program.base, site, 'front-hall');
    // A whole day at a reading a second, so that its hours are sealed and weighed.
    const rows = Array.from({ length: 90_000 }, (_, s) => {
      const time = new Date(Date.UTC(2026, 4, 4) + s * 1000).toISOString();
      return `${time},${(2 + 0.2 * Math.sin(s / 900) + (s % 7) / 1000).toFixed(3)}`;
    });
    await fetch(`${program.base}/api/loggers/front-hall/import`, {
      method: 'POST',
      headers: { 'content-type': 'text/csv' },
      body: `time,pressure_bar\n${rows.join('\n')}\n`,
    });
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
    disk?.end();
  });

  it.each(LOOKS)('is told at the head of every page, with what takes the room: $look', async (look) => {
    if (!disk) return;
    const { page, wrong, go, close } = await openPage(browser, program.base, look);
    for (const path of ['/', '/loggers', '/loggers/front-hall']) {
      await go(path);
      const note = page.locator('#program-note');
      await expect
        .poll(() => note.textContent(), { timeout: 20_000 })
        .toMatch(/^The disk of the data folder has \d+ MB free.*free some space/);
      const box = (await note.boundingBox())!;
      expect(box.y + box.height).toBeLessThan(look.viewport.height / 3);
      await isSound(page);
    }
    await eventually(
      async () => {
        await go('/loggers');
        return page.locator('main').textContent();
      },
      (text) => /Its sealed hours take \d+.(bytes|kB|MB) on the disk/.test(text ?? ''),
    );
    await go('/loggers/front-hall');
    expect(await page.locator('main').textContent()).toMatch(/The disk has \d+\.\d.MB free/);
    expect(wrong).toEqual([]);
    await close();
  });

  it('ends by itself on a page that stands open, once there is room again', async () => {
    if (!disk) return;
    const { page, go, close } = await openPage(browser, program.base);
    await go('/');
    await page.locator('#program-note').filter({ hasText: 'free some space' }).waitFor();
    rmSync(join(disk.folder, 'else'));
    await expect.poll(() => page.locator('#program-note').textContent(), { timeout: 40_000 }).toBe('');
    await close();
  });
});

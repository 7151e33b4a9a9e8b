import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { launchBrowser, openPage, type WatchedPage } from '../support/browser.ts';
import { linesOf, openData, skipWithoutOpenData } from '../support/open-data.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';

const skip = skipWithoutOpenData() || skipWithout('chromium');

/** A test loop's file with semicolons, many columns and times without a zone, as somebody on a phone brings it in. */
describe.skipIf(skip)("another's file through the page", () => {
  let program: RunningProgram;
  let browser: Browser;
  let watched: WatchedPage;
  beforeAll(async () => {
    program = await startProgram();
    browser = await launchBrowser();
    const channels = [{ channel: 'pressure', unit: 'bar', rangeBar: [-1, 10] }];
    const site = await addSite(program.base, 'Bench house, 3 Sample Row', 'Europe/Berlin');
    await addLogger(program.base, site, 'loop', { channels });
    watched = await openPage(browser, program.base);
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });

  it('asks for what the file leaves open by the names of its columns, and imports every usable row', async () => {
    const { page } = watched;
    const file = openData('skab/valve1/4.csv')!;
    const rows = linesOf(file).length - 1;
    const shown = () => page.locator('main').textContent();
    await watched.go('/loggers/loop');
    await page.getByLabel('CSV file, plain or .gz').setInputFiles(file);
    // The choice is gone with the question once it is answered.
    await page.getByLabel(/^Pressure \(column 5/).click();
    await page.getByLabel(/zone/i).last().selectOption('UTC');
    await page.getByRole('button', { name: 'Go on' }).click();
    await page.getByRole('button', { name: 'Import it' }).click();
    // Thousands are set apart by a narrow space.
    const figure = String(rows).replace(/(\d)(?=\d{3}$)/, '$1\u202f');
    await expect.poll(shown, { timeout: 20_000 }).toContain(`${figure} rows: ${figure} stored, 0 were there already`);
    const samples = await exportedSamples(program.base, 'loop');
    expect(samples).toHaveLength(rows);
    const [time, , , , pressure] = linesOf(file)[1]!.split(';');
    expect(samples[0]).toEqual([Date.parse(`${time!.replace(' ', 'T')}Z`), Number(pressure)]);
    console.log(`imported through the page: ${rows} rows, ${samples.length} stored`);
    expect(watched.wrong).toEqual([]);
  });
});

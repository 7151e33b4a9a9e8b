import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  launchBrowser,
  openPage,
  seriousViolations,
  settled,
  sidewaysPx,
  smallTargets,
  type WatchedPage,
} from '../support/browser.ts';
import { findProgram, skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';

const skip = [skipWithout('chromium'), skipWithout('mosquitto_pub')].some(Boolean);

describe.skipIf(skip)('beginning with nothing', () => {
  let program: RunningProgram;
  let browser: Browser;
  let watched: WatchedPage;

  beforeAll(async () => {
    program = await startProgram();
    browser = await launchBrowser();
    watched = await openPage(browser, program.base);
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });

  async function sound(): Promise<void> {
    expect(await sidewaysPx(watched.page)).toBe(0);
    expect(await smallTargets(watched.page)).toEqual([]);
    expect(await seriousViolations(watched.page)).toEqual([]);
    expect(watched.wrong).toEqual([]);
  }

  it('an empty page teaches the next step, and adding a site leads on to its logger', async () => {
    const { page } = watched;
    await watched.go('/');
    expect(await page.locator('main').textContent()).toContain('Add one below');
    await page.getByLabel('Name').fill('4 Example Street');
    await page.getByLabel('Time zone').selectOption('Europe/London');
    await page.getByRole('button', { name: 'Add the site' }).click();
    await page.waitForURL('**/loggers/new?site=*');
    await settled(page);
    await sound();
  });

  it('what is entered wrongly is told where it happened', async () => {
    const { page } = watched;
    await page.getByLabel('Name of the logger').fill('Front Hall');
    await page.getByRole('button', { name: 'Add it and show its key' }).click();
    expect(await page.getByRole('main').getByRole('alert').textContent()).toContain('The name reads “Front Hall”');
  });

  it('volts ask for the transducer’s end points', async () => {
    const { page } = watched;
    await page.getByLabel('Pressure is sent in').selectOption('V');
    expect(await page.getByLabel('Low end, as sent').inputValue()).toBe('0.5');
    await page.getByLabel('Pressure is sent in').selectOption('bar');
  });

  it('the key is shown, and the command line shown with it brings the first sample onto the page', async () => {
    const { page } = watched;
    await page.getByLabel('Name of the logger').fill('front-hall');
    await page.getByRole('button', { name: 'Add it and show its key' }).click();
    await expect.poll(() => page.locator('.first-sample').textContent()).toContain('Waiting for the first sample');
    await sound();
    const command = (await page.locator('code', { hasText: 'mosquitto_pub' }).textContent())!;
    expect(command).toContain(`-p ${program.mqttPort} -u front-hall`);
    execFileSync('sh', ['-c', command.replace(/^mosquitto_pub/, findProgram('mosquitto_pub')!)], { timeout: 20_000 });
    await expect
      .poll(() => page.locator('.first-sample').textContent(), { timeout: 20_000 })
      .toContain('The first sample has arrived: 2.400');
    await sound();
  });

  it('a file is previewed as it would be read, imported and told', async () => {
    const { page } = watched;
    await watched.go('/loggers/front-hall');
    const rows = Array.from(
      { length: 120 },
      (_, index) => `${new Date(Date.UTC(2026, 4, 4, 6, 0, index)).toISOString()},${2 + index / 1000}`,
    );
    await page.getByLabel('CSV file, plain or .gz').setInputFiles({
      name: 'log.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from(`time,pressure_bar\n${rows.join('\n')}\nnonsense,x\n`),
    });
    await expect.poll(() => page.locator('main').textContent(), { timeout: 10_000 }).toContain('As it would be read');
    expect(await page.locator('table').first().textContent()).toContain('2026-05-04T06:00:00');
    await page.getByRole('button', { name: 'Import it' }).click();
    await expect
      .poll(() => page.locator('main').textContent(), { timeout: 20_000 })
      .toContain('121 rows: 120 stored, 0 were there already, 1 refused');
    await sound();
  });

  it('a message that can’t be read stands on the logger’s page, as text', async () => {
    const { page } = watched;
    await page.getByText('Renew its key').click();
    await page.getByRole('button', { name: 'Make a new key' }).click();
    const key = (await page.locator('.copy code', { hasNotText: 'mosquitto_pub' }).first().textContent())!;
    execFileSync(
      findProgram('mosquitto_pub')!,
      [
        '-h',
        '127.0.0.1',
        '-p',
        String(program.mqttPort),
        '-u',
        'front-hall',
        '-P',
        key,
        '-q',
        '1',
        '-t',
        'mainsdiary/front-hall/pressure',
        '-m',
        '<img src=x onerror=alert(1)>',
      ],
      { timeout: 20_000 },
    );
    await expect
      .poll(
        async () => {
          await watched.go('/loggers/front-hall');
          return page.locator('main').textContent();
        },
        { timeout: 20_000 },
      )
      .toContain('<img src=x onerror=alert(1)>');
    expect(await page.locator('main img').count()).toBe(0);
    await sound();
  });

  it('the samples come back as a CSV file', async () => {
    const { page } = watched;
    const [download] = await Promise.all([
      page.waitForEvent('download', { timeout: 20_000 }),
      page.getByRole('button', { name: /^Pressure, / }).click(),
    ]);
    expect(download.suggestedFilename()).toBe('front-hall-pressure.csv');
    expect(existsSync(await download.path())).toBe(true);
  });

  it('a lost connection is told in words', async () => {
    const { page } = watched;
    await watched.go('/');
    await program.stop();
    await expect
      .poll(() => page.locator('#live-note').textContent(), { timeout: 20_000 })
      .toContain('The connection to the program is lost');
  });
});

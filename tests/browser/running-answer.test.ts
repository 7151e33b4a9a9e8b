import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite } from '../support/api.ts';
import { launchBrowser, openPage, seriousViolations, type WatchedPage } from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';
import { batches, streetDays } from '../support/street-days.ts';

const LOGGER = 'front-hall';
const LIMIT = { timeout: 120_000 };

describe.skipIf(skipWithout('chromium'))('the running answer, without loading the page again', LIMIT, () => {
  let program: RunningProgram;
  let browser: Browser;
  let device: MqttClient;
  let diary: WatchedPage;
  let chart: WatchedPage;
  let site: string;

  beforeAll(async () => {
    program = await startProgram();
    browser = await launchBrowser();
    site = await addSite(program.base, '12 Sample Row', 'UTC');
    const key = await addLogger(program.base, site, LOGGER, {
      channels: [{ channel: 'pressure', unit: 'bar', rangeBar: [0, 10], accuracyBar: 0.1 }],
    });
    device = await connectAsync(`mqtt://127.0.0.1:${program.mqttPort}`, {
      username: LOGGER,
      password: key,
      clientId: LOGGER,
    });
    diary = await openPage(browser, program.base);
    await diary.go(`/sites/${site}`);
    await diary.page.evaluate('document.documentElement.dataset.notReloaded = "yes"');
  }, 120_000);
  afterAll(async () => {
    await device?.endAsync();
    await browser?.close();
    await program?.stop();
  });

  const log = async (fromDay: number, toDay: number, lowestBar?: number) => {
    for (const payload of batches(streetDays(fromDay, toDay, lowestBar)))
      await device.publishAsync(`mainsdiary/${LOGGER}/pressure`, payload, { qos: 1 });
  };
  const known = async () => (await diary.page.locator('section[aria-labelledby=known]').textContent()) ?? '';
  const says = (words: RegExp) => expect.poll(known, { timeout: 60_000 }).toMatch(words);

  it('the first samples turn the empty page into a diary', async () => {
    await log(0, 3);
    await says(/On three of three weekday mornings the street’s pressure sagged/);
    expect(await known()).toMatch(/Two more days of logging would settle what days can/);
    expect(await known()).toMatch(/two more weekdays like these give a firm statement/);
  });

  it('a further day shortens the wait, and is told among the days', async () => {
    const open = diary.page.getByText('More that can be said');
    await open.click();
    await log(3, 4);
    await says(/Four of four weekday mornings sagged.*one more weekday like these gives a firm statement/);
    await expect.poll(() => diary.page.locator('.day h3').first().textContent()).toBe('Thursday 8 January');
    // Whoever had opened it reads on.
    expect(await diary.page.locator('details[open]').count()).toBeGreaterThan(0);
  });

  it('a low period shows as soon as it is stored, and the sensor that can’t settle it is named', async () => {
    chart = await openPage(browser, program.base);
    await chart.go(`/sites/${site}/chart?from=2026-01-05T00:00:00Z&to=2026-01-12T00:00:00Z`);
    const found = chart.page.getByText(/Low supply, .*lowest 0\.62/).first();
    expect(await found.count()).toBe(0);
    await log(4, 5, 0.62);
    await says(/One period below 0\.70 bar/);
    await says(/The sensor’s ±0\.12.bar can’t settle 0\.70 bar.*calibrate it against a gauge/);
    await says(/The log is long enough/);
    await expect.poll(() => diary.page.locator('.day h3').first().textContent()).toBe('Friday 9 January');
  });

  it('the chart’s findings follow too', async () => {
    await expect
      .poll(() => chart.page.getByText(/Low supply, .*lowest 0\.62/).count(), { timeout: 60_000 })
      .toBeGreaterThan(0);
    expect(chart.wrong).toEqual([]);
  });

  it('all that without another load, anything wrong, or a barrier', async () => {
    expect(await diary.page.evaluate('document.documentElement.dataset.notReloaded')).toBe('yes');
    expect(diary.wrong).toEqual([]);
    expect(await seriousViolations(diary.page)).toEqual([]);
  });
});

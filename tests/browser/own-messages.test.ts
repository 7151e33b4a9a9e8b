import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  DESK,
  launchBrowser,
  openPage,
  PHONE,
  seriousViolations,
  sidewaysPx,
  smallTargets,
} from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';

const MESSAGE = '{"ts":1777876267,"readings":{"p":{"value":2413}},"name":"<img src=x onerror=alert(1)>"}';

describe.skipIf(skipWithout('chromium'))("a device's own messages, on its logger's page", { timeout: 120_000 }, () => {
  let program: RunningProgram;
  let browser: Browser;
  beforeAll(async () => {
    program = await startProgram();
    browser = await launchBrowser();
    for (const id of ['plant-390', 'plant-1280', 'plant-list'])
      await fetch(`${program.base}/api/loggers`, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ id, channels: [{ channel: 'pressure', unit: 'mbar' }] }),
      });
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });

  it.each([
    ['phone', PHONE],
    ['desk', DESK],
  ])('are pasted, their values chosen, tried and saved: %s', async (_, viewport) => {
    const id = `plant-${viewport.width}`;
    const topic = `plant/${viewport.width}/state`;
    const { page, wrong, go, close } = await openPage(browser, program.base, { viewport });
    await go(`/loggers/${id}`);
    await page.getByText('A device with a form of its own').click();
    await page.getByLabel('Topic filter').fill(topic);
    await page.getByLabel('Topic of a message it sent').fill(topic);
    await page.getByLabel('The message, as it was sent').fill(MESSAGE);
    await page.getByLabel('/readings/p/value').selectOption('pressure');
    await page.getByLabel('/ts').selectOption('time');
    await page.getByRole('button', { name: 'Try it' }).click();
    await page.getByText("at /ts the time 1777876267 isn't RFC 3339").waitFor();
    await page.getByLabel('The time is written as').selectOption('unix_s');
    await page.getByRole('button', { name: 'Try it' }).click();
    await page.getByText('pressure: 2.413 bar (2413 mbar as sent), of 4 May 2026, 06:31 UTC').waitFor();
    expect(await page.locator('main img').count()).toBe(0);
    expect(await sidewaysPx(page)).toBe(0);
    expect(await smallTargets(page)).toEqual([]);
    expect(await seriousViolations(page)).toEqual([]);
    await page.getByRole('button', { name: 'Save', exact: true }).first().click();
    await page.getByText(`Its device publishes under ${topic}`).waitFor();
    const saved = (await (await fetch(`${program.base}/api/loggers/${id}`)).json()) as { mapping: unknown };
    expect(saved.mapping).toEqual({
      filter: topic,
      channels: [{ channel: 'pressure', value: '/readings/p/value', time: { pointer: '/ts', form: 'unix_s' } }],
    });
    expect(wrong).toEqual([]);
    await close();
  });

  it('may be lists of readings as a whole; what was saved is shown and saved again as it is', async () => {
    const { page, wrong, go, close } = await openPage(browser, program.base, { viewport: PHONE });
    const saved = async () =>
      ((await (await fetch(`${program.base}/api/loggers/plant-list`)).json()) as { mapping: unknown }).mapping;
    await go('/loggers/plant-list');
    await page.getByText('A device with a form of its own').click();
    await page.getByLabel('Topic filter').fill('plant/list');
    await page.getByLabel('The message, as it was sent').fill('[{"v":2413},{"v":2414}]');
    await page.getByLabel('The whole message is such a list').check();
    await page.getByLabel('/v', { exact: true }).selectOption('pressure');
    await page.getByRole('button', { name: 'Try it' }).click();
    await page.getByText('2 readings, all can be read').or(page.getByText('two readings, all can be read')).waitFor();
    expect(await smallTargets(page)).toEqual([]);
    expect(await seriousViolations(page)).toEqual([]);
    await page.getByRole('button', { name: 'Save', exact: true }).first().click();
    await page.getByText('Its device publishes under plant/list').waitFor();
    const mapping = { filter: 'plant/list', channels: [{ channel: 'pressure', value: '/v', entries: '' }] };
    expect(await saved()).toEqual(mapping);
    await page.getByLabel('Topic filter').fill('plant/list/2');
    await page.getByRole('button', { name: 'Save', exact: true }).first().click();
    await page.getByText('Its device publishes under plant/list/2').waitFor();
    expect(await saved()).toEqual({ ...mapping, filter: 'plant/list/2' });
    expect(wrong).toEqual([]);
    await close();
  });
});

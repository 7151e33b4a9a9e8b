import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite, api } from '../support/api.ts';
import { launchBrowser, openPage, type WatchedPage } from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';
import { everyControlIsReached, isSound, isToldAt, LOOKS, openByKeyboard, savedBy } from './form-walk.ts';

interface Site {
  pump: Record<string, unknown> | null;
  fitted: string | null;
  outletReadings: Record<string, unknown>[];
  keepRawDays: number | null;
  thresholds: Record<string, number>;
}

/** Forms by keyboard alone, as somebody fills them in who sees nothing, and as a thumb finds them. */
describe.skipIf(skipWithout('chromium'))('the forms of a house', { timeout: 120_000 }, () => {
  let program: RunningProgram;
  let browser: Browser;
  beforeAll(async () => {
    program = await startProgram();
    browser = await launchBrowser();
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });

  let made = 0;
  /** A house with a pump's logger and two readings of long ago. */
  async function house(): Promise<{ site: string; logger: string; saved(): Promise<Site> }> {
    const site = await addSite(program.base, `${++made} Form Street`);
    const logger = `booster-${made}`;
    await addLogger(program.base, site, logger, { position: 'pump_outlet' });
    await fetch(`${program.base}/api/loggers/${logger}/import`, {
      method: 'POST',
      headers: { 'content-type': 'text/csv' },
      body: 'time,pressure_bar\n2026-05-04T06:30:00Z,2.1\n2026-05-04T06:30:01Z,2.2\n',
    });
    return { site, logger, saved: () => api<Site>(program.base, 'GET', `/api/sites/${site}`) };
  }
  const opened = (path: string, look: (typeof LOOKS)[number]): Promise<WatchedPage> =>
    openPage(browser, program.base, look).then(async (watched) => {
      await watched.go(path);
      return watched;
    });
  /** The browser itself tells of every refused request on its console. */
  const nothingElse = (wrong: readonly string[]) =>
    expect(wrong.filter((line) => !/status of 4\d\d/.test(line))).toEqual([]);

  it.each(LOOKS)('the pump: what is known, and its curve row by row: $look', async (look) => {
    const { site, saved } = await house();
    const { page, wrong, close } = await opened(`/sites/${site}`, look);
    await openByKeyboard(page, 'The pump');
    await page.getByRole('button', { name: 'Enter the curve' }).focus();
    await page.keyboard.press('Enter');
    expect(await page.evaluate('inPage.focused()')).toBe('Flow, l/min');
    const names = await everyControlIsReached(page, 'The pump');
    expect(names).toContain('Remove point 2 of the curve');
    await isSound(page);

    await page.getByLabel('May start from, hour').fill('30');
    await savedPress(page);
    await isToldAt(page, 'until, hour', /Hours go in pairs/);
    await page.getByLabel('until, hour').fill('22');
    await savedPress(page);
    await isToldAt(page, 'May start from, hour', /^It must be at most 24, not 30\.$/);
    await isSound(page);
    await page.getByLabel('May start from, hour').fill('6');
    await page.getByLabel('Vessel’s size, litres').fill('0');
    await page.getByLabel('Its pre-charge, bar').fill('1,4');
    await savedPress(page);
    await isToldAt(page, 'Vessel’s size', /^It must be more than 0, not 0\.$/);
    await page.getByLabel('Vessel’s size, litres').fill('24');
    const point = (at: number) => page.getByRole('group', { name: `Point ${at} of the curve` });
    for (const [at, [flow, lift]] of (
      [
        ['24', '0.8'],
        ['0', 'high'],
      ] as const
    ).entries()) {
      await point(at + 1)
        .getByLabel('Flow, l/min')
        .fill(flow);
      await point(at + 1)
        .getByLabel('Lift, bar')
        .fill(lift);
    }
    await savedPress(page);
    await isToldAt(page, 'Lift, bar', /The lift reads “high”\. Enter bar/);
    await isSound(page);
    await point(2).getByLabel('Lift, bar').fill('2.4');
    await savedBy(page, 'Save what is known of the pump', /^Saved\.$/);
    const { pump } = await saved();
    expect(pump).toMatchObject({ allowedHours: [6, 22], vessel: { volumeL: 24, preChargeBar: 1.4 } });
    // A metre of water is 0.0980665 bar: conventional value of water at 4 °C and standard gravity (ISO 80000-4).
    const curve = pump?.['curve'] as { flowLpm: number; headM: number }[];
    expect(curve.map(({ flowLpm }) => flowLpm)).toEqual([0, 24]);
    expect(curve.map(({ headM }) => headM * 0.0980665)).toEqual([expect.closeTo(2.4, 9), expect.closeTo(0.8, 9)]);

    // In the order of their flows now; a third between them, one removed, a flow twice.
    expect(await point(1).getByLabel('Flow, l/min').inputValue()).toBe('0');
    await page.getByRole('button', { name: 'Add a point' }).press('Enter');
    await point(3).getByLabel('Flow, l/min').fill('24');
    await point(3).getByLabel('Lift, bar').fill('1');
    await savedPress(page);
    await isToldAt(page, 'Flow, l/min', /stands there twice/);
    await page.getByRole('button', { name: 'Remove point 2 of the curve' }).press('Enter');
    expect(await page.evaluate('inPage.focused()')).toBe('Remove point 2 of the curve');
    await savedBy(page, 'Save what is known of the pump', /^Saved\.$/);
    const second = (await saved()).pump?.['curve'] as { flowLpm: number; headM: number }[];
    expect(second.map(({ flowLpm }) => flowLpm)).toEqual([0, 24]);
    // What was not touched stays to the last digit.
    expect(second[0]).toEqual(curve[0]);
    for (const _ of [1, 2]) await page.getByRole('button', { name: 'Remove point 1 of the curve' }).press('Enter');
    await savedBy(page, 'Save what is known of the pump', /^Saved\.$/);
    expect((await saved()).pump).not.toHaveProperty('curve');
    nothingElse(wrong);
    await close();
  });

  it.each(LOOKS)('how long single readings are kept, and the thresholds: $look', async (look) => {
    const { site, saved } = await house();
    const { page, wrong, close } = await opened(`/sites/${site}`, look);
    await openByKeyboard(page, 'Settings of this site');
    const names = await everyControlIsReached(page, 'Settings of this site');
    expect(names).toEqual(expect.arrayContaining(['Name', 'Keep single readings for, days', 'Hide this site']));
    await isSound(page);
    await page.getByRole('button', { name: 'Save', exact: true }).locator('visible=true').press('Enter');
    await page.getByText('Nothing stands here that isn’t saved already.').waitFor();
    await page.getByLabel('Low supply below, bar').fill('0.7.1');
    await page.keyboard.press('Enter');
    await isToldAt(page, 'Low supply below', /It reads “0\.7\.1”/);
    await page.getByLabel('Low supply below, bar').fill('99');
    await page.keyboard.press('Enter');
    await isToldAt(page, 'Low supply below', /^It must be at most 20, not 99\.$/);
    await page.getByLabel('Low supply below, bar').fill('0,9');
    await page.getByLabel('Keep single readings for, days').fill('two');
    await page.keyboard.press('Enter');
    await isToldAt(page, 'Keep single readings', /“two”/);
    await page.getByLabel('Keep single readings for, days').fill('30');
    await page.getByText('Saving this erases every single reading from').waitFor();
    await isSound(page);
    await page.getByRole('button', { name: 'Save, and erase them' }).press('Enter');
    await page
      .getByRole('status')
      .filter({ hasText: /^Saved\.$/ })
      .waitFor();
    expect(await page.evaluate('inPage.focused()')).toMatch(/^Save/);
    expect(await saved()).toMatchObject({
      keepRawDays: 30,
      thresholds: { lowSupplyBar: 0.9, weakInletBar: 0.3, sagMinDepthBar: 0.3 },
    });
    expect(await page.getByLabel('Low supply below, bar').inputValue()).toBe('0.9');
    await page.getByLabel('Keep single readings for, days').fill('');
    await savedBy(page, 'Save', /^Saved\.$/);
    expect((await saved()).keepRawDays).toBeNull();
    nothingElse(wrong);
    await close();
  });

  it.each(LOOKS)('a fitting: its date, and what the outlets gave: $look', async (look) => {
    const { site, saved } = await house();
    const { page, wrong, close } = await opened(`/sites/${site}`, look);
    await openByKeyboard(page, 'Before and after a fitting');
    await everyControlIsReached(page, 'Before and after a fitting');
    await isSound(page);
    await page.getByLabel('Fitted on').fill('2099-01-01');
    await page.getByRole('button', { name: 'Save the date' }).press('Enter');
    await isToldAt(page, 'Fitted on', /still to come/);
    await page.getByLabel('Fitted on').fill('2026-05-05');
    await savedBy(page, 'Save the date', /^Saved\.$/);
    // Noon in London in May is 11:00 UTC.
    expect((await saved()).fitted).toBe('2026-05-05T11:00:00Z');

    const add = () => page.getByRole('button', { name: 'Add the reading' }).press('Enter');
    await add();
    await isToldAt(page, 'Outlet', /Name the outlet/);
    await page.getByLabel('Outlet', { exact: true }).fill('kitchen <b>tap</b>');
    await page.getByLabel('Read on').fill('2026-05-04');
    await add();
    await isToldAt(page, 'Flow, l/min', /needs a flow or a pressure/);
    await page.locator('details[open]').getByLabel('Flow, l/min').fill('6 l');
    await add();
    await isToldAt(page, 'Flow, l/min', /“6 l” is no number/);
    await page.locator('details[open]').getByLabel('Flow, l/min').fill('6000');
    await add();
    await isToldAt(page, 'Flow, l/min', /^It must be at most 1000, not 6000\.$/);
    await isSound(page);
    await page.locator('details[open]').getByLabel('Flow, l/min').fill('6,5');
    await savedBy(page, 'Add the reading', 'Added: kitchen <b>tap</b>.');
    expect(await page.locator('main b').count()).toBe(0);
    expect((await saved()).outletReadings).toMatchObject([{ outlet: 'kitchen <b>tap</b>', flowLpm: 6.5 }]);
    expect(await page.locator('details[open]').getByLabel('Flow, l/min').inputValue()).toBe('');
    await isSound(page);
    await page.getByRole('button', { name: /^Remove the reading of kitchen/ }).press('Enter');
    await page.getByText('Removed: kitchen <b>tap</b>.').waitFor();
    expect(await page.evaluate('inPage.focused()')).toBe('Outlet');
    expect((await saved()).outletReadings).toEqual([]);
    await page.getByLabel('Fitted on').fill('');
    await savedBy(page, 'Save the date', /^Saved: no date\.$/);
    expect((await saved()).fitted).toBeNull();
    nothingElse(wrong);
    await close();
  });

  it.each(LOOKS)("a device's own topic and pointers: $look", async (look) => {
    const { logger } = await house();
    const { page, wrong, close } = await opened(`/loggers/${logger}`, look);
    const closed = 'A device with a form of its own';
    await openByKeyboard(page, closed);
    const names = await everyControlIsReached(page, closed);
    expect(names).toEqual(expect.arrayContaining(['Topic filter', 'Where pressure stands', 'Try it', 'Save']));
    await isSound(page);
    const save = () => page.locator('details[open]').getByRole('button', { name: 'Save', exact: true }).press('Enter');
    await save();
    await isToldAt(page, 'Topic filter', /Name the topic/);
    await page.getByLabel('Topic filter').fill('plant/#/state');
    await save();
    await isToldAt(page, 'Where pressure stands', /Say where at least one value stands/);
    await page.getByLabel('Where pressure stands').fill('no slash');
    await save();
    await expect.poll(() => page.evaluate('inPage.wrongHere()'), { timeout: 10_000 }).not.toBe('');
    expect(await page.locator('[aria-invalid=true]').count()).toBe(2);
    await isSound(page);
    await page.getByLabel('Topic filter').fill(`plant/${logger}/state`);
    await page.getByLabel('Where pressure stands').fill('/p');
    await page.getByRole('button', { name: 'Try it' }).press('Enter');
    await isToldAt(page, 'The message', /Paste a message/);
    await page.getByLabel('The message, as it was sent').fill('{"p":2.5}');
    await page.getByRole('button', { name: 'Try it' }).press('Enter');
    await page.getByText('pressure: 2.500 bar').waitFor();
    await isSound(page);
    await save();
    await page.getByText('Saved: its messages are read like this from now on.').waitFor();
    expect(await page.evaluate('inPage.focused()')).toBe('Save');
    await page.locator('summary', { hasText: `Its device publishes under plant/${logger}/state` }).waitFor();
    const mapping = async () =>
      (await api<{ mapping: unknown }>(program.base, 'GET', `/api/loggers/${logger}`)).mapping;
    expect(await mapping()).toEqual({
      filter: `plant/${logger}/state`,
      channels: [{ channel: 'pressure', value: '/p' }],
    });
    await page.getByRole('button', { name: 'Follow it no longer' }).press('Enter');
    await page.getByText('It is followed no longer.').waitFor();
    expect(await page.evaluate('inPage.focused()')).toBe('Topic filter');
    expect(await mapping()).toBeNull();
    nothingElse(wrong);
    await close();
  });
});

function savedPress(page: WatchedPage['page']): Promise<void> {
  return page.getByRole('button', { name: 'Save what is known of the pump' }).press('Enter');
}

import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  DESK,
  launchBrowser,
  openPage,
  PHONE,
  seriousViolations,
  sidewaysPx,
  smallTargets,
  type WatchedPage,
} from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';

/** The invented property whose street sags on weekday mornings, and one with a pump and nothing before it. */
const SITE = '/sites/demo-12-sample-row';
const PUMP_SITE = '/sites/demo-7-pattern-lane';

// Four weeks at one sample a second are analysed for each house: on a busy machine that takes a while.
const LIMIT = { timeout: 240_000 };

describe.skipIf(skipWithout('chromium'))('how the week goes, on a site’s page', LIMIT, () => {
  let program: RunningProgram;
  let browser: Browser;

  beforeAll(async () => {
    program = await startProgram({ flags: ['--demo'] });
    browser = await launchBrowser();
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });

  async function view(path: string, options: Parameters<typeof openPage>[2] = {}): Promise<WatchedPage> {
    const watched = await openPage(browser, program.base, options);
    await watched.go(path);
    return watched;
  }
  const section = (page: Page) => page.locator('section[aria-labelledby=week]');
  const readout = (page: Page) => page.locator('.week-readout').textContent();

  it('can be read by everybody at both sizes, in light and in dark, and fits', async () => {
    for (const viewport of [PHONE, DESK])
      for (const colorScheme of ['light', 'dark'] as const) {
        const { page, wrong, close } = await view(SITE, { viewport, colorScheme });
        await page.evaluate('inPage.openAll()');
        expect(await seriousViolations(page)).toEqual([]);
        expect(await sidewaysPx(page)).toBe(0);
        expect(await smallTargets(page)).toEqual([]);
        expect(wrong).toEqual([]);
        await close();
      }
  });

  it('is a table of text: days across and hours down on a phone, the other way about on a desk', async () => {
    const heads = async (page: Page, scope: string) => page.locator(`.week th[scope=${scope}]`).allTextContents();
    const phone = await view(SITE);
    expect(await heads(phone.page, 'col')).toEqual(['Hour', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun']);
    expect(await heads(phone.page, 'row')).toHaveLength(24);
    // What a screen reader is told of a cell: the median, the lowest tenth, and what they stand on.
    const cells = await phone.page.locator('.week td').allTextContents();
    expect(cells).toHaveLength(168);
    for (const cell of cells)
      expect(cell).toMatch(/^\d\.\d\d bar, (below the threshold; )?a tenth of the time under .* minutes on \w+ days$/);
    await phone.close();
    const desk = await view(SITE, { viewport: DESK });
    expect(await heads(desk.page, 'col')).toHaveLength(25);
    expect(await heads(desk.page, 'row')).toEqual(['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun']);
    await desk.close();
  });

  it('tells what an hour stands on by keyboard: one stop of Tab, arrows from there', async () => {
    const { page, wrong, close } = await view(SITE, { viewport: DESK });
    await page.getByRole('button', { name: 'How the week goes' }).focus();
    await page.keyboard.press('Enter');
    await expect.poll(() => page.evaluate('inPage.focused()')).toBe('How the week goes');
    // The hour with the lowest median is told first.
    expect(await readout(page)).toContain('below the threshold');
    await page.keyboard.press('Tab');
    const first = await readout(page);
    await page.keyboard.press('ArrowDown');
    expect(await readout(page)).not.toBe(first);
    await page.keyboard.press('Home');
    expect(await readout(page)).toMatch(/day, 00:00 to 01:00: median \d\.\d\d\sbar, a tenth of the time under/);
    await page.keyboard.press('Tab');
    expect(await page.evaluate('inPage.focused()')).toBe('These shares in figures');
    expect(wrong).toEqual([]);
    await close();
  });

  it('and by thumb: what was touched is told within the same sight', async () => {
    const { page, close } = await view(SITE);
    await page.locator('.week td').nth(8).tap();
    expect(await readout(page)).toMatch(/^Tuesday, 01:00 to 02:00: median/);
    const box = (await page.locator('.week-readout').boundingBox())!;
    expect(box.y + box.height).toBeLessThanOrEqual(PHONE.height);
    const cell = (await page.locator('.week td').nth(8).boundingBox())!;
    expect(Math.min(cell.width, cell.height)).toBeGreaterThanOrEqual(43);
    await close();
  });

  it('has curve and days as pictures with words, and their figures one touch away', async () => {
    const { page, close } = await view(SITE);
    const pictures = section(page).getByRole('img');
    expect(await pictures.count()).toBe(2);
    expect(await pictures.first().getAttribute('aria-label')).toContain('Standing pressure was below 0.70');
    expect(await pictures.last().getAttribute('aria-label')).toMatch(/\d+ days over one another.* with a sag/);
    for (const name of ['.day-line', '.day-line.weekend', '.day-line.sagging', '.mark'])
      expect(await section(page).locator(`[role=img] ${name}`).count(), name).toBeGreaterThan(0);
    await page.getByText('These days in figures').tap();
    expect(await section(page).locator('details[open] tbody tr').count()).toBeGreaterThan(27);
    await close();
  });

  it('is not there where there is no standing pressure to tell of', async () => {
    const { page, wrong, close } = await view(PUMP_SITE);
    expect(await section(page).isVisible()).toBe(false);
    expect(await page.getByRole('button', { name: 'How the week goes' }).count()).toBe(0);
    expect(wrong).toEqual([]);
    await close();
  });
});

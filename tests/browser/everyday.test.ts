import { readFileSync } from 'node:fs';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import {
  canvasTexts,
  DESK,
  launchBrowser,
  openPage,
  PHONE,
  seriousViolations,
  settled,
  sidewaysPx,
  smallTargets,
  type WatchedPage,
} from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';

/** The invented property whose street sags, and the one with a pump. */
const SITE = 'demo-12-sample-row';
const PUMP_SITE = 'demo-7-pattern-lane';
const LOGGER = 'sample-row-12';

// Four weeks at one sample a second are analysed for each house: on a busy machine that takes a while.
const LIMIT = { timeout: 240_000 };

describe.skipIf(skipWithout('chromium'))('the page over the invented houses', LIMIT, () => {
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

  const PATHS = [
    '/',
    `/sites/${SITE}`,
    `/sites/${PUMP_SITE}`,
    `/sites/${SITE}/chart`,
    `/sites/${PUMP_SITE}/chart`,
    `/sites/${SITE}/chart?last=600`,
    `/sites/${SITE}/letter`,
    `/sites/${SITE}/loggers`,
    '/loggers',
    `/loggers/new?site=${SITE}`,
    `/loggers/${LOGGER}`,
    '/sign-in',
    '/nothing-here',
  ];

  it.each(PATHS)('%s fits a phone, has a title and a heading, and asks nobody else', async (path) => {
    const { page, wrong, close } = await view(path);
    await page.evaluate('inPage.openAll()');
    expect(await sidewaysPx(page)).toBe(0);
    expect(await smallTargets(page)).toEqual([]);
    expect(await page.locator('h1').count()).toBe(1);
    expect(await page.title()).toMatch(/· Mains Diary$/);
    expect(await page.locator('main').textContent()).not.toContain('!');
    expect(wrong).toEqual([]);
    await close();
  });

  it.each(PATHS)('%s can be used by everybody, in light and in dark', async (path) => {
    for (const colorScheme of ['light', 'dark'] as const) {
      const { page, close } = await view(path, { colorScheme, viewport: PHONE });
      expect(await seriousViolations(page)).toEqual([]);
      await close();
    }
  });

  it('tells the days newest first, all strips exactly under one another', async () => {
    const { page, close } = await view(`/sites/${SITE}`);
    const boxes = await page.evaluate<string[]>('inPage.stripBoxes()');
    expect(boxes.length).toBeGreaterThan(5);
    expect(new Set(boxes).size).toBe(1);
    const before = await page.locator('.day').count();
    await page.getByRole('button', { name: 'Earlier days' }).click();
    expect(await page.locator('.day').count()).toBeGreaterThan(before);
    await close();
  });

  it('draws the chart: a strong line, hatching and a labelled threshold', async () => {
    const { page, close, wrong } = await view(`/sites/${SITE}/chart`, { viewport: DESK });
    const inked = await page.evaluate<{ water: number; earth: number }>('inPage.inked()');
    expect(inked.water).toBeGreaterThan(500);
    expect(inked.earth).toBeGreaterThan(50);
    expect((await canvasTexts(page)).join(' ')).toContain('low supply 0.7 bar');
    expect(wrong).toEqual([]);
    await close();
  });

  it('shows a live sample as it comes', async () => {
    const { page, close, wrong } = await view(`/sites/${SITE}/chart?last=600`);
    const readout = page.locator('.readout');
    await expect.poll(() => readout.textContent(), { timeout: 20_000 }).toMatch(/^Newest: .*bar at \d\d:\d\d:\d\d\.$/);
    const first = await readout.textContent();
    await expect.poll(() => readout.textContent(), { timeout: 20_000 }).not.toBe(first);
    expect(wrong).toEqual([]);
    await close();
  });

  it('zooms by keyboard, wheel, drag and button, and keeps the span in its address', async () => {
    const { page, close, wrong } = await view(`/sites/${SITE}/chart`, { viewport: DESK });
    const address = () => new URL(page.url()).search;
    const lengthMs = () => {
      const query = new URLSearchParams(address());
      return Date.parse(query.get('to') ?? '') - Date.parse(query.get('from') ?? '');
    };
    const changed = async (act: () => Promise<void>) => {
      const before = address();
      await act();
      await expect.poll(address, { timeout: 10_000 }).not.toBe(before);
    };
    const chart = page.locator('.chart');
    await chart.focus();
    await changed(() => page.keyboard.press('+'));
    const zoomed = lengthMs();
    await changed(() => page.keyboard.press('ArrowLeft'));
    expect(lengthMs()).toBe(zoomed);
    const box = (await page.locator('.chart .u-over').first().boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + 60);
    await changed(() => page.mouse.wheel(0, -300));
    expect(lengthMs()).toBeLessThan(zoomed);
    const wheeled = lengthMs();
    await changed(async () => {
      await page.mouse.move(box.x + box.width * 0.25, box.y + 60);
      await page.mouse.down();
      await page.mouse.move(box.x + box.width * 0.75, box.y + 60, { steps: 5 });
      await page.mouse.up();
    });
    expect(lengthMs() / wheeled).toBeCloseTo(0.5, 1);
    const dragged = lengthMs();
    await changed(() => page.getByRole('button', { name: 'Zoom out' }).click());
    expect(lengthMs() / dragged).toBeCloseTo(2, 1);
    await settled(page);
    expect(wrong).toEqual([]);
    await close();
  });

  it('moves with one finger and zooms with two, while the page still scrolls up and down', async () => {
    const { page, close, wrong } = await view(`/sites/${SITE}/chart`);
    const fingers = await page.context().newCDPSession(page);
    const box = (await page.locator('.chart .u-over').first().boundingBox())!;
    const y = box.y + 80;
    const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', ...across: number[]) =>
      fingers.send('Input.dispatchTouchEvent', { type, touchPoints: across.map((x, id) => ({ x: box.x + x, y, id })) });
    const span = () => {
      const query = new URL(page.url()).searchParams;
      return { fromMs: Date.parse(query.get('from') ?? ''), toMs: Date.parse(query.get('to') ?? '') };
    };

    await touch('touchStart', 100);
    for (const x of [120, 160, 200]) await touch('touchMove', x);
    await touch('touchEnd');
    await expect.poll(() => page.url(), { timeout: 10_000 }).toContain('from=');
    const moved = span();

    await touch('touchStart', 120, 180);
    for (const apart of [80, 100, 120]) await touch('touchMove', 150 - apart / 2, 150 + apart / 2);
    await touch('touchEnd');
    await expect
      .poll(() => span().toMs - span().fromMs, { timeout: 10_000 })
      .toBeLessThan((moved.toMs - moved.fromMs) * 0.7);
    expect(await page.evaluate("getComputedStyle(document.querySelector('.chart')).touchAction")).toBe('pan-y');
    expect(wrong).toEqual([]);
    await close();
  });

  it('opens a finding beneath the chart with its rule and samples, at an address of its own', async () => {
    const { page, close, wrong } = await view(`/sites/${SITE}/chart`);
    await page.locator('.findings button', { hasText: 'Low supply' }).first().click();
    await expect.poll(() => page.locator('.finding').textContent(), { timeout: 10_000 }).toContain('The rule:');
    await expect.poll(() => page.locator('.finding').textContent(), { timeout: 20_000 }).toContain('Its samples');
    expect(page.url()).toContain('finding=low-');
    await page.reload();
    await settled(page);
    expect(await page.locator('.findings button[aria-expanded=true]').textContent()).toContain('Low supply');
    expect(wrong).toEqual([]);
    await close();
  });

  it('draws the site’s hours in the same places whatever the viewer’s zone, over both clock changes', async () => {
    // Directive 2000/84/EC: the clocks change on the last Sundays of March and October at 01:00 UTC.
    const days = [
      'from=2026-10-25T00:00:00Z&to=2026-10-25T06:00:00Z',
      'from=2026-03-29T00:00:00Z&to=2026-03-29T06:00:00Z',
    ];
    for (const day of days) {
      const seen = new Set<string>();
      for (const timezoneId of ['Europe/London', 'America/New_York', 'Pacific/Auckland', 'UTC']) {
        const { page, close } = await view(`/sites/${SITE}/chart?${day}`, { viewport: DESK, timezoneId });
        const texts = await canvasTexts(page);
        seen.add([...new Set(texts.filter((text) => /^\d\d:\d\d@/.test(text)))].sort().join(' '));
        await close();
      }
      expect(seen.size).toBe(1);
      const [labels] = [...seen];
      const ones = labels!.split(' ').filter((text) => text.startsWith('01:00@')).length;
      expect(ones).toBe(day.includes('10-25') ? 2 : 0);
    }
  });

  it('makes the letter and hands it to the downloads', async () => {
    const { page, close, wrong } = await view(`/sites/${SITE}/letter`);
    const [download] = await Promise.all([
      page.waitForEvent('download', { timeout: 60_000 }),
      page.getByRole('link', { name: 'Keep it as PDF' }).click(),
    ]);
    expect(
      readFileSync(await download.path())
        .subarray(0, 5)
        .toString('latin1'),
    ).toBe('%PDF-');
    await expect.poll(() => page.locator('main').textContent()).toContain('The letter is made');
    expect(wrong).toEqual([]);
    await close();
  });

  it('goes from page to page by its links without loading again, and back', async () => {
    const { page, close, wrong } = await view('/');
    await page.evaluate('globalThis.kept = true');
    await page.getByRole('link', { name: '12 Sample Row' }).click();
    await settled(page);
    expect(new URL(page.url()).pathname).toBe(`/sites/${SITE}`);
    await page.goBack();
    await settled(page);
    expect(await page.locator('h1').textContent()).toBe('Sites');
    expect(await page.evaluate('globalThis.kept')).toBe(true);
    expect(wrong).toEqual([]);
    await close();
  });
});

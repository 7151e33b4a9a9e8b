import { fileURLToPath } from 'node:url';
import axe from 'axe-core';
import { type Browser, chromium, type Page } from 'playwright-core';
import { findProgram } from './outside-programs.ts';

/** A real browser, as quiet as it can be made: nothing of its own goes out. */
export function launchBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: findProgram('chromium')!,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
}

const IN_PAGE = fileURLToPath(new URL('./in-page.js', import.meta.url));

export const PHONE = { width: 390, height: 844 };
export const DESK = { width: 1280, height: 900 };

/** A page that remembers what went wrong on it: errors on the console, and requests to anywhere but our server. */
export interface WatchedPage {
  readonly page: Page;
  readonly wrong: string[];
  go(path: string): Promise<void>;
  close(): Promise<void>;
}

export async function openPage(
  browser: Browser,
  base: string,
  options: { viewport?: { width: number; height: number }; colorScheme?: 'light' | 'dark'; timezoneId?: string } = {},
): Promise<WatchedPage> {
  const viewport = options.viewport ?? PHONE;
  const context = await browser.newContext({
    viewport,
    hasTouch: viewport.width < 600,
    acceptDownloads: true,
    ...(options.colorScheme ? { colorScheme: options.colorScheme } : {}),
    ...(options.timezoneId ? { timezoneId: options.timezoneId } : {}),
  });
  await context.addInitScript({ path: IN_PAGE });
  const page = await context.newPage();
  const wrong: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') wrong.push(`console: ${message.text()}`);
  });
  page.on('pageerror', (error) => wrong.push(`error: ${error.message}`));
  page.on('request', (request) => {
    const { protocol, origin } = new URL(request.url());
    if (protocol !== 'blob:' && origin !== base) wrong.push(`request elsewhere: ${request.url()}`);
  });
  return {
    page,
    wrong,
    async go(path) {
      await page.goto(base + path, { waitUntil: 'domcontentloaded' });
      await settled(page);
    },
    close: () => context.close(),
  };
}

/** Waits until nothing on the page says that it is still loading. */
export async function settled(page: Page): Promise<void> {
  // Asked again and again from here: the page's policy forbids the evaluation that waiting inside it would need.
  const deadline = Date.now() + 200_000;
  while (!(await page.evaluate<boolean>('inPage.settled()'))) {
    if (Date.now() > deadline) throw new Error(`still loading: ${await page.locator('main').textContent()}`);
    await page.waitForTimeout(50);
  }
}

/** Serious and critical findings of axe-core (WCAG 2.1 A and AA), each with the element it is about. */
export async function seriousViolations(page: Page): Promise<string[]> {
  await page.evaluate(axe.source);
  return page.evaluate('inPage.seriousViolations()');
}

export function sidewaysPx(page: Page): Promise<number> {
  return page.evaluate('inPage.sidewaysPx()');
}

export function smallTargets(page: Page): Promise<string[]> {
  return page.evaluate('inPage.smallTargets()');
}

/** Texts that the charts drew so far, as `text@pixels across`. */
export function canvasTexts(page: Page): Promise<string[]> {
  return page.evaluate('inPage.canvasTexts');
}

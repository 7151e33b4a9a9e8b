import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import { DESK, PHONE, seriousViolations, sidewaysPx, smallTargets } from '../support/browser.ts';

/** Small and large; by day and by night is looked at on the way. */
export const LOOKS = [
  { look: 'phone', viewport: PHONE },
  { look: 'desk', viewport: DESK },
] as const;

/** Opens a closed part of the page with the keyboard alone. */
export async function openByKeyboard(page: Page, summary: string): Promise<void> {
  await page.locator('summary', { hasText: new RegExp(`^${summary}$`) }).focus();
  await page.keyboard.press('Enter');
}

/**
 * Walks from a part's summary with the tab key: every control of it must come, in the order in which it is seen, each
 * with a name. A browser's own date and time fields take several steps, which count once.
 */
export async function everyControlIsReached(page: Page, summary: string): Promise<string[]> {
  const there = await page.evaluate<string[]>(`inPage.controlsUnder(${JSON.stringify(summary)})`);
  await page.locator('summary', { hasText: new RegExp(`^${summary}$`) }).focus();
  const reached: string[] = [];
  for (let step = 0; reached.length < there.length && step < there.length * 6; step++) {
    await page.keyboard.press('Tab');
    const name = await page.evaluate<string>('inPage.focused()');
    if (name !== reached.at(-1)) reached.push(name);
  }
  expect(reached).toEqual(there.filter((name, at) => name !== there[at - 1]));
  expect(there).not.toContain('');
  return there;
}

/** Nothing sticks out, nothing is too small for a thumb, and axe finds nothing serious by day or by night. */
export async function isSound(page: Page): Promise<void> {
  expect(await sidewaysPx(page)).toBe(0);
  expect(await smallTargets(page)).toEqual([]);
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme });
    expect(await seriousViolations(page)).toEqual([]);
  }
}

/** What is said to be wrong stands at the control that has the focus, tied to it. */
export async function isToldAt(page: Page, control: string, words: string | RegExp): Promise<void> {
  await expect.poll(() => page.evaluate<string>('inPage.wrongHere()'), { timeout: 10_000 }).toMatch(words);
  expect(await page.evaluate<string>('inPage.focused()')).toContain(control);
}

/** Presses a button by the keyboard and waits for what is said after saving; the focus stays on it, the part stays open. */
export async function savedBy(page: Page, button: string, words: string | RegExp): Promise<void> {
  const target = page.getByRole('button', { name: button, exact: true }).locator('visible=true').first();
  await target.focus();
  await page.keyboard.press('Enter');
  await page.getByRole('status').filter({ hasText: words }).first().waitFor({ timeout: 10_000 });
  expect(await page.evaluate<string>('inPage.focused()')).toBe(button);
  expect(await target.isVisible()).toBe(true);
}

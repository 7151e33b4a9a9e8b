import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite, api } from '../support/api.ts';
import { launchBrowser, openPage } from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, startProgram } from '../support/program.ts';
import { openByKeyboard } from './form-walk.ts';

/** What no field of a number takes: beyond every limit, below it, markup, another script's figures, far too long. */
const WRONG = ['-99999', '1e300', '99999999999', '<img src=x onerror=alert(1)>', '٣', '9'.repeat(400)];

interface Form {
  readonly page: 'site' | 'logger';
  readonly form: string;
  readonly button: string;
  /** What else it asks for, so that only the wrong value is in its way. */
  readonly rest: Readonly<Record<string, string>>;
  readonly fields: readonly string[];
}

const FORMS: readonly Form[] = [
  {
    page: 'site',
    form: 'Settings of this site',
    button: 'Save',
    rest: {},
    fields: [
      'Low supply below, bar',
      'A sag is at least, bar',
      'Weak inlet below, bar',
      'Keep single readings for, days',
    ],
  },
  {
    page: 'site',
    form: 'The pump',
    button: 'Save what is known of the pump',
    rest: {
      'May start from, hour': '6',
      'until, hour': '22',
      'Vessel’s size, litres': '24',
      'Its pre-charge, bar': '1.4',
    },
    fields: [
      'May start from, hour',
      'until, hour',
      'Most starts in an hour',
      'Litres between stop and start',
      'Vessel’s size, litres',
      'Its pre-charge, bar',
    ],
  },
  {
    page: 'site',
    form: 'Before and after a fitting',
    button: 'Add the reading',
    rest: { Outlet: 'bath', 'Flow, l/min': '7' },
    fields: ['Flow, l/min', 'Pressure while it runs, bar'],
  },
  {
    page: 'logger',
    form: 'How its values are read',
    button: 'Save',
    rest: {},
    fields: ['Range from, bar', 'to, bar', 'Accuracy ±, bar'],
  },
  {
    page: 'logger',
    form: 'Move it',
    button: 'Move it from now on',
    rest: {},
    fields: ['Height above the boundary stop tap, metres'],
  },
  {
    page: 'logger',
    form: 'Enter a comparison',
    button: 'Save the comparison',
    rest: { 'Shown here, bar': '2', 'On the gauge, bar': '2' },
    fields: ['Shown here, bar', 'On the gauge, bar', 'Accuracy of the gauge ±, bar'],
  },
];

describe.skipIf(skipWithout('chromium'))('values that no field takes', { timeout: 120_000 }, () => {
  let program: RunningProgram;
  let browser: Browser;
  const paths = { site: '', logger: '/loggers/wrong' };
  beforeAll(async () => {
    program = await startProgram();
    browser = await launchBrowser();
    const site = await addSite(program.base, '1 Wrong Lane');
    paths.site = `/sites/${site}`;
    await addLogger(program.base, site, 'wrong', { position: 'pump_outlet' });
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });

  it.each(FORMS)('$form: each is told at its field, stays there, and nothing is saved', async (given) => {
    const saved = () =>
      Promise.all([
        api(program.base, 'GET', `/api${paths.site}`),
        api<{ placements: unknown; channels: unknown }>(program.base, 'GET', '/api/loggers/wrong'),
        api(program.base, 'GET', '/api/loggers/wrong/calibrations'),
      ]).then(([site, { placements, channels }, calibrations]) => ({ site, placements, channels, calibrations }));
    const before = await saved();
    const { page, wrong, go, close } = await openPage(browser, program.base);
    await go(paths[given.page]);
    await openByKeyboard(page, given.form);
    const summary = page.locator('summary', { hasText: new RegExp(`^${given.form}$`) });
    const part = page.locator('details', { has: summary });
    for (const [label, value] of Object.entries(given.rest)) await part.getByLabel(label, { exact: true }).fill(value);
    for (const field of given.fields) {
      const input = part.getByLabel(field, { exact: true });
      const right = await input.inputValue();
      for (const value of WRONG) {
        await input.fill(value);
        await part.getByRole('button', { name: given.button }).press('Enter');
        const about = `${field}: ${value}`;
        await expect
          .poll(() => page.evaluate<string>('inPage.wrongHere()'), { timeout: 10_000, message: about })
          .not.toBe('');
        expect(await input.inputValue()).toBe(value);
        expect(await input.getAttribute('aria-invalid'), about).toBe('true');
      }
      await input.fill(right);
      expect(await page.locator('[aria-invalid]').count(), field).toBe(0);
    }
    expect(await page.locator('main img').count()).toBe(0);
    expect(wrong.filter((line) => !/status of 4\d\d/.test(line))).toEqual([]);
    expect(await saved()).toEqual(before);
    await close();
  });
});

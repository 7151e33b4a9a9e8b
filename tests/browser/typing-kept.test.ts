import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite, api } from '../support/api.ts';
import { launchBrowser, openPage, type WatchedPage } from '../support/browser.ts';
import { skipWithout } from '../support/outside-programs.ts';
import { type RunningProgram, runCommand, startProgram } from '../support/program.ts';
import { isSound, openByKeyboard } from './form-walk.ts';

interface Site {
  name: string;
  pump: Record<string, unknown> | null;
  thresholds: Record<string, number>;
  outletReadings: { outlet: string }[];
}

describe.skipIf(skipWithout('chromium'))('what is typed stays', { timeout: 120_000 }, () => {
  let browser: Browser;
  let program: RunningProgram;
  beforeAll(async () => {
    browser = await launchBrowser();
    program = await startProgram();
  });
  afterAll(async () => {
    await browser?.close();
    await program?.stop();
  });
  const siteOf = (base: string, id: string) => api<Site>(base, 'GET', `/api/sites/${id}`);
  async function opened(base: string, path: string, summary: string): Promise<WatchedPage> {
    const watched = await openPage(browser, base);
    await watched.go(path);
    await openByKeyboard(watched.page, summary);
    return watched;
  }
  const press = (page: Page, name: string) => page.getByRole('button', { name, exact: true }).press('Enter');

  it('when the program is lost while it saves, and is saved once it is back, however often it is tried', async () => {
    const lost = await startProgram();
    const { base, folder, httpPort, mqttPort } = lost;
    const site = await addSite(base, '1 Lost Lane');
    const { page, close } = await opened(base, `/sites/${site}`, 'Before and after a fitting');
    await page.getByLabel('Outlet', { exact: true }).fill('kitchen tap');
    await page.getByLabel('Read on').fill('2026-05-04');
    await page.getByLabel('Flow, l/min').fill('6,5');
    await openByKeyboard(page, 'Settings of this site');
    await page.getByLabel('Name', { exact: true }).fill('1 Lost Lane, left');
    await lost.kill();
    await press(page, 'Add the reading');
    await page.getByText('The program can’t be reached from this page. See').waitFor();
    await press(page, 'Save');
    await page.getByText('so it isn’t known whether it took this. What you typed stays.').waitFor();
    expect(await page.getByLabel('Outlet', { exact: true }).inputValue()).toBe('kitchen tap');
    await isSound(page);
    const again = await startProgram({ folder, httpPort, mqttPort });
    // As if the first answer had only been lost on its way.
    const reading = { outlet: 'kitchen tap', flowLpm: 6.5, time: await typedTime(page) };
    await api(base, 'PATCH', `/api/sites/${site}`, { outletReadings: [reading] });
    await press(page, 'Add the reading');
    await page.getByText('Added: kitchen tap.').waitFor();
    await press(page, 'Save');
    await page
      .getByRole('status')
      .filter({ hasText: /^Saved\.$/ })
      .waitFor();
    expect(await siteOf(base, site)).toMatchObject({ name: '1 Lost Lane, left', outletReadings: [reading] });
    await close();
    await again.stop();
  });

  it('a new logger’s key is shown although nothing else can be had at that moment', async () => {
    await addSite(program.base, '5 Key Lane');
    const { page, go, close } = await openPage(browser, program.base);
    await go('/loggers/new');
    await page.getByLabel('Name of the logger').fill('key-lane');
    await page.route('**/api/about', (route) => route.abort());
    await press(page, 'Add it and show its key');
    await page.getByRole('heading', { name: '4. Its key' }).waitFor();
    expect(await page.locator('.copy code').first().textContent()).toMatch(/^[\w-]{20,}$/);
    await page.getByText('What it must be told stands on its page').waitFor();
    // As if the answer with the key had been lost: the second attempt finds the name taken, and says what to do.
    await page.unroute('**/api/about');
    await go('/loggers/new');
    await page.getByLabel('Name of the logger').fill('key-lane');
    await press(page, 'Add it and show its key');
    await expect
      .poll(() => page.evaluate('inPage.wrongHere()'), { timeout: 20_000 })
      .toMatch(/A logger "key-lane" exists\. Choose another name\. If you have just added it/);
    await close();
  });

  it('on two pages of one house: what each saves is kept, and is shown on the other', async () => {
    const site = await addSite(program.base, '2 Twin Lane');
    await addLogger(program.base, site, 'twin', { position: 'pump_outlet' });
    const [one, other] = [
      await opened(program.base, `/sites/${site}`, 'Settings of this site'),
      await opened(program.base, `/sites/${site}`, 'Settings of this site'),
    ];
    for (const { page } of [one, other]) await openByKeyboard(page, 'The pump');
    await other.page.getByLabel('Low supply below, bar').fill('0.9');
    await other.page.getByLabel('Most starts in an hour').fill('30');
    await one.page.getByLabel('Name', { exact: true }).fill('2 Twin Lane, upstairs');
    await one.page.getByRole('button', { name: 'Save', exact: true }).press('Enter');
    await one.page.getByLabel('Vessel’s size, litres').fill('24');
    await one.page.getByLabel('Its pre-charge, bar').fill('1.4');
    await press(one.page, 'Save what is known of the pump');
    // The other page follows without being loaded, and keeps what is being typed in it.
    await expect
      .poll(() => other.page.getByLabel('Vessel’s size, litres').inputValue(), { timeout: 20_000 })
      .toBe('24');
    expect(await other.page.locator('h1').textContent()).toBe('2 Twin Lane, upstairs');
    expect(await other.page.getByLabel('Name', { exact: true }).inputValue()).toBe('2 Twin Lane, upstairs');
    expect(await other.page.getByLabel('Low supply below, bar').inputValue()).toBe('0.9');
    expect(await other.page.getByLabel('Most starts in an hour').inputValue()).toBe('30');
    // What both change is told before the later one replaces the earlier.
    await one.page.getByLabel('Low supply below, bar').fill('0.8');
    await one.page.getByRole('button', { name: 'Save', exact: true }).press('Enter');
    await other.page.getByText('Another page saved “0.8” here meanwhile.').waitFor();
    expect(await other.page.getByLabel('Low supply below, bar').inputValue()).toBe('0.9');
    await isSound(other.page);
    await press(other.page, 'Save');
    await other.page.getByText('Another page saved').waitFor({ state: 'detached' });
    await expect.poll(() => one.page.getByLabel('Low supply below, bar').inputValue(), { timeout: 20_000 }).toBe('0.9');
    await press(other.page, 'Save what is known of the pump');
    await expect
      .poll(() => siteOf(program.base, site), { timeout: 20_000 })
      .toMatchObject({
        name: '2 Twin Lane, upstairs',
        thresholds: { lowSupplyBar: 0.9 },
        pump: { mostStartsPerHour: 30, vessel: { volumeL: 24, preChargeBar: 1.4 } },
      });
    // A page that hears nothing any more still takes nothing back.
    await one.page.context().setOffline(true);
    await api(program.base, 'PATCH', `/api/sites/${site}`, {
      outletReadings: [{ outlet: 'shower', flowLpm: 4, time: '2026-05-04T11:00:00Z' }],
    });
    await one.page.context().setOffline(false);
    await openByKeyboard(one.page, 'Before and after a fitting');
    await one.page.getByLabel('Outlet', { exact: true }).fill('bath');
    await one.page.locator('details[open]').getByLabel('Flow, l/min').fill('11');
    await press(one.page, 'Add the reading');
    await one.page.getByText('Added: bath.').waitFor();
    const { outletReadings } = await siteOf(program.base, site);
    expect(outletReadings.map(({ outlet }) => outlet)).toEqual(['shower', 'bath']);
    expect(one.wrong.filter((line) => !/ERR_INTERNET_DISCONNECTED/.test(line))).toEqual([]);
    expect(other.wrong).toEqual([]);
    await one.close();
    await other.close();
  });

  it('in two comparisons with a gauge the second is not sent on readings that the first corrected', async () => {
    const site = await addSite(program.base, '3 Gauge Lane');
    await addLogger(program.base, site, 'gauge-lane');
    const { page, close } = await opened(program.base, '/loggers/gauge-lane', 'Enter a comparison');
    const elsewhere = await opened(program.base, '/loggers/gauge-lane', 'Enter a comparison');
    for (const where of [page, elsewhere.page]) {
      await where.getByLabel('Shown here, bar', { exact: true }).fill('2.4');
      await where.getByLabel('On the gauge, bar', { exact: true }).fill('2.5');
    }
    await press(page, 'Save the comparison');
    await page.getByText('Saved: from now on a reading is multiplied by').waitFor();
    await press(elsewhere.page, 'Save the comparison');
    await elsewhere.page.getByText('Not sent: a comparison was saved since these values were read').waitFor();
    expect(await elsewhere.page.getByLabel('On the gauge, bar', { exact: true }).inputValue()).toBe('2.5');
    const saved = await api<unknown[]>(program.base, 'GET', '/api/loggers/gauge-lane/calibrations');
    expect(saved).toHaveLength(1);
    await close();
    await elsewhere.close();
  });

  it('when the session ends: one is asked over the page, and what was being saved is sent then', async () => {
    const folder = program.folder.replace(/\/?$/, '-guarded');
    const set = await runCommand(['password', '--data', folder], { input: 'a long password\na long password\n' });
    expect(set.code, set.stderr).toBe(0);
    const guarded = await startProgram({ folder, flags: ['--http-host', '0.0.0.0'] });
    const watched = await openPage(browser, guarded.base);
    const { page } = watched;
    const signIn = async () => {
      await page.getByLabel('The owner’s password').fill('a long password');
      await press(page, 'Sign in');
    };
    await watched.go('/');
    await signIn();
    await page.getByRole('button', { name: 'Sign out' }).waitFor();
    await page.getByLabel('Name', { exact: true }).fill('4 Session Lane');
    await press(page, 'Add the site');
    await page.waitForURL('**/loggers/new?site=*');
    const site = new URL(page.url()).searchParams.get('site')!;
    await watched.go(`/sites/${site}`);
    await openByKeyboard(page, 'Settings of this site');
    await page.getByLabel('Name', { exact: true }).fill('4 Session Lane, at the back');

    await page.context().clearCookies();
    await press(page, 'Save');
    const dialog = page.getByRole('dialog', { name: 'Your session has ended' });
    await dialog.waitFor();
    expect(await page.evaluate('inPage.focused()')).toBe('The owner’s password');
    await isSound(page);
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    await page.getByText('Nobody is signed in.').waitFor();
    expect(await page.getByLabel('Name', { exact: true }).inputValue()).toBe('4 Session Lane, at the back');
    await press(page, 'Save');
    await page.getByLabel('The owner’s password').fill('not this one');
    await press(page, 'Sign in');
    await expect.poll(() => page.evaluate('inPage.wrongHere()'), { timeout: 20_000 }).toMatch(/password/i);
    await signIn();
    await dialog.waitFor({ state: 'hidden' });
    await page
      .getByRole('status')
      .filter({ hasText: /^Saved\.$/ })
      .waitFor();
    expect(await page.locator('h1').textContent()).toBe('4 Session Lane, at the back');

    // With nothing typed it is the page of its own, and the way back.
    await page.context().clearCookies();
    await page.getByRole('link', { name: 'Loggers' }).first().click();
    await page.waitForURL('**/sign-in?next=*');
    await signIn();
    await page.waitForURL(/\/loggers$/);
    await watched.close();
    await guarded.stop();
  });
});

/** The moment that stands in the form, as the site's clock (London in May) means it. */
async function typedTime(page: Page): Promise<string> {
  const [date, clock] = [
    await page.getByLabel('Read on').inputValue(),
    await page.locator('input[type=time]').last().inputValue(),
  ];
  return new Date(Date.parse(`${date}T${clock}:00+01:00`)).toISOString().replace('.000Z', 'Z');
}

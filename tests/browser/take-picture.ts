import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { findProgram } from '../support/outside-programs.ts';
import { startProgram } from '../support/program.ts';

/*
 * Takes the README's picture from the running demo: `npm run build && node dist/tests/browser/take-picture.js`.
 */
const executablePath = findProgram('chromium');
if (!executablePath) throw new Error('a picture needs Chromium: install the package chromium');
const folder = fileURLToPath(new URL('../../../tests/browser/pictures/', import.meta.url));
mkdirSync(folder, { recursive: true });
const program = await startProgram({ flags: ['--demo'] });
const browser = await chromium.launch({
  executablePath,
  args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'],
});
try {
  const page = await browser.newPage({ viewport: { width: 900, height: 2300 } });
  const sites = (await (await fetch(`${program.base}/api/sites`)).json()) as { id: string; name: string }[];
  const house = sites.find((site) => site.name.includes('12 Sample Row'))!;
  await page.goto(`${program.base}/sites/${house.id}`);
  await page.locator('.day .strip').first().waitFor();
  await page.screenshot({ path: `${folder}diary.png` });
  console.log(`written: ${folder}diary.png`);
} finally {
  await browser.close();
  await program.stop();
}

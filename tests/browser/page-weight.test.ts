import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';

const PAGE = fileURLToPath(new URL('../../dist/ui/', import.meta.url));
const ASSETS = `${PAGE}assets/`;
const built = existsSync(ASSETS);
if (!built) console.log('skipped: the page isn’t built; run npm run build');

describe.skipIf(!built)('the built page', () => {
  const scripts = () => readdirSync(ASSETS).filter((name) => name.endsWith('.js'));

  it('has at most 120 kB of script gzipped', () => {
    const bytes = scripts().reduce((sum, name) => sum + gzipSync(readFileSync(ASSETS + name)).length, 0);
    console.log(`script gzipped: ${(bytes / 1000).toFixed(1)} kB`);
    expect(bytes).toBeLessThanOrEqual(120_000);
  });

  it('has nothing inline that a strict content security policy would refuse', () => {
    const html = readFileSync(`${PAGE}index.html`, 'utf8');
    expect(html).not.toMatch(/<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=|https?:\/\//);
  });
});

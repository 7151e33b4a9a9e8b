import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ask } from './asking.ts';
import { type RunningServer, startServer, temporaryFolder } from './running-server.ts';

let server: RunningServer;
beforeAll(async () => {
  const pageFolder = temporaryFolder();
  mkdirSync(join(pageFolder, 'assets'));
  writeFileSync(join(pageFolder, 'index.html'), '<!doctype html><title>Mains Diary</title>');
  writeFileSync(join(pageFolder, 'icon.svg'), '<svg xmlns="http://www.w3.org/2000/svg"/>');
  writeFileSync(join(pageFolder, 'assets', 'index-a1b2c3.js'), 'export {};');
  writeFileSync(join(pageFolder, '.hidden'), 'secret');
  server = await startServer({}, { pageFolder });
});
afterAll(() => server.stop());
const get = (path: string) => ask(server.url, 'GET', path);

describe('the page', () => {
  it.each(['/', '/sites/abc', '/sites/abc/logger/front-hall'])(
    'answers %s with its start file, never from a cache unasked',
    async (path) => {
      const answer = await get(path);
      expect(answer.text).toContain('<title>Mains Diary</title>');
      expect(answer.headers['content-type']).toMatch(/^text\/html/);
      expect(answer.headers['cache-control']).toBe('no-cache');
      expect(answer.headers['x-content-type-options']).toBe('nosniff');
    },
  );
  it('lets assets be kept for good, since their names change with their content', async () => {
    const answer = await get('/assets/index-a1b2c3.js');
    expect(answer.headers['content-type']).toMatch(/javascript/);
    expect(answer.headers['cache-control']).toMatch(/max-age=31536000.*immutable/);
    expect((await get('/icon.svg')).headers['cache-control']).toBe('no-cache');
  });
  it.each([
    '/assets/old-d4e5f6.js',
    '/assets/',
    '/missing.png',
    '/.hidden',
    '/assets/../.hidden',
    '/..%2f..%2fetc%2fpasswd.txt',
  ])('%s is a missing file, not the page', async (path) => {
    const answer = await get(path);
    expect(answer.status).toBe(404);
    expect(answer.json?.code ?? 'unknown_file').toMatch(/unknown_file|unknown_route/);
    expect(answer.text).not.toContain('secret');
  });
  it('is not answered to anything but asking for it', async () => {
    expect((await ask(server.url, 'POST', '/', { body: {} })).status).toBe(404);
  });
});

it('where the page is not built, it is told how to build it, and the API works', async () => {
  const without = await startServer({}, { pageFolder: join(temporaryFolder(), 'nothing') });
  try {
    const answer = await ask(without.url, 'GET', '/');
    expect(answer.status).toBe(503);
    expect(answer.json).toMatchObject({ code: 'page_not_built', hint: expect.stringContaining('npm run build') });
    expect((await ask(without.url, 'GET', '/api/sites')).status).toBe(200);
  } finally {
    await without.stop();
  }
});

import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { COLUMNS_TYPE, readColumnBytes } from '../../../api/contract/column-bytes.ts';
import { type Answer, ask, askRoute } from './asking.ts';
import { type RunningServer, startServer, temporaryFolder } from './running-server.ts';

const SCRIPT = `export const words = ${JSON.stringify(Array.from({ length: 500 }, (_, i) => `word ${i}`))};`;
const SAMPLES = 3_000;
let server: RunningServer;
beforeAll(async () => {
  const pageFolder = temporaryFolder();
  mkdirSync(join(pageFolder, 'assets'));
  writeFileSync(join(pageFolder, 'index.html'), '<!doctype html><title>Mains Diary</title>');
  writeFileSync(join(pageFolder, 'assets', 'index-a1b2c3.js'), SCRIPT);
  server = await startServer({}, { pageFolder });
  const site = (
    await askRoute(server.url, 'createSite', { body: { name: '12 Sample Row', timeZone: 'Europe/London' } })
  ).json.id;
  const channels = [{ channel: 'pressure', unit: 'bar', rangeBar: [0, 10] }];
  const logger = { id: 'front-hall', site, position: 'incoming', channels };
  await askRoute(server.url, 'createLogger', { body: logger });
  const rows = Array.from(
    { length: SAMPLES },
    (_, second) => `${new Date(Date.UTC(2026, 4, 4) + second * 1000).toISOString()},${1.5 + (second % 100) / 1000}`,
  );
  await askRoute(server.url, 'importSamples', {
    params: { id: 'front-hall' },
    headers: { 'content-type': 'text/csv' },
    body: `time,pressure_bar\n${rows.join('\n')}\n`,
  });
});
afterAll(() => server.stop());

const params = { id: 'front-hall' };
const gzip = { 'accept-encoding': 'gzip' };
const series = (headers: Record<string, string>, query: Record<string, string> = { points: '2000' }) =>
  askRoute(server.url, 'series', { params, query, headers });
const named = (answer: Answer, header: string) => String(answer.headers[header] ?? '').toLowerCase();

describe('a series as typed columns', () => {
  it.each([{ points: '2000' }, { points: '20000' }, { points: '7' }, { points: '300', from: '2026-05-04T00:10:00Z' }])(
    'says what the JSON says, asked with %o',
    async (query) => {
      const { json } = await series({}, query);
      const answer = await series({ accept: COLUMNS_TYPE }, query);
      expect(answer.headers['content-type']).toBe(COLUMNS_TYPE);
      expect(answer.headers['cache-control']).toBe('no-store');
      const read = readColumnBytes(Uint8Array.from(answer.bytes).buffer);
      const rounded = (column: number[]) => column.map((value) => Math.fround(value));
      expect(read).toEqual({ ...json, min: rounded(json.min), max: rounded(json.max), mean: rounded(json.mean) });
    },
  );
  it('is asked for by name only: whoever takes anything gets JSON', async () => {
    for (const accept of ['*/*', 'application/json', 'text/csv', 'application/*'])
      expect(named(await series({ accept }), 'content-type'), accept).toMatch(/^application\/json/);
    for (const accept of [`${COLUMNS_TYPE}, application/json;q=0.9`, `application/json;q=0.1, ${COLUMNS_TYPE};q=0.2`])
      expect(named(await series({ accept }), 'content-type'), accept).toBe(COLUMNS_TYPE);
  });
  it('tells caches that the form depends on what was accepted', async () => {
    for (const headers of [{}, { accept: COLUMNS_TYPE }, { accept: COLUMNS_TYPE, ...gzip }])
      expect(named(await series(headers), 'vary')).toMatch(/\baccept\b(?!-)/);
    expect(named(await series({ accept: 'text/csv' }, {}), 'vary')).toMatch(/\baccept\b(?!-)/);
  });
  it('leaves problems as problem details', async () => {
    const answer = await askRoute(server.url, 'series', {
      params: { id: 'nowhere' },
      headers: { accept: COLUMNS_TYPE, ...gzip },
    });
    expect(answer.status).toBe(404);
    expect(answer.headers['content-type']).toMatch(/^application\/problem\+json/);
    expect(answer.headers['content-encoding']).toBeUndefined();
    expect(answer.json.code).toBe('unknown_logger');
  });
});

describe('answers', () => {
  it.each([
    ['application/json', 'gzip'],
    ['application/json', 'br'],
    [COLUMNS_TYPE, 'gzip'],
  ])('of type %s are packed with %s for whoever takes it, and hold the same', async (accept, encoding) => {
    const plain = await series({ accept });
    const packed = await ask(server.url, 'GET', '/api/loggers/front-hall/series', {
      query: { points: '2000' },
      headers: { accept, 'accept-encoding': encoding },
    });
    expect(packed.headers['content-encoding']).toBe(encoding);
    expect(packed.bytes.length).toBeLessThan(plain.bytes.length / 2);
    const bytes = encoding === 'br' ? brotliDecompressSync(packed.bytes) : gunzipSync(packed.bytes);
    expect(bytes.equals(plain.bytes)).toBe(true);
    for (const answer of [plain, packed]) expect(named(answer, 'vary')).toContain('accept-encoding');
  });
  it('stream every sample as packed CSV', async () => {
    const plain = await series({ accept: 'text/csv' }, {});
    const packed = await series({ accept: 'text/csv', ...gzip }, {});
    expect(packed.headers['content-encoding']).toBe('gzip');
    expect(gunzipSync(packed.bytes).toString('utf8')).toBe(plain.text);
    expect(plain.text.trim().split('\r\n')).toHaveLength(SAMPLES + 1);
  });
  it('go unpacked where they are short, or the client asks for none', async () => {
    expect((await ask(server.url, 'GET', '/api/session', { headers: gzip })).headers['content-encoding']).toBe(
      undefined,
    );
    const refused = { 'accept-encoding': 'identity' };
    expect((await series(refused)).headers['content-encoding']).toBeUndefined();
  });
  it('that hold a new key are never packed', async () => {
    const body = { id: 'back-yard', site: null, channels: [{ channel: 'pressure', unit: 'bar' }] };
    const made = await ask(server.url, 'POST', '/api/loggers', { body, headers: gzip });
    expect(made.headers['content-encoding']).toBeUndefined();
  });
});

describe("the page's files", () => {
  const script = (headers: Record<string, string>, method = 'GET') =>
    ask(server.url, method, '/assets/index-a1b2c3.js', { headers });
  it.each([
    ['gzip', gunzipSync],
    ['br', brotliDecompressSync],
  ] as const)('go out packed with %s, with the type and age of the plain ones', async (encoding, unpack) => {
    const plain = await script({});
    for (let time = 0; time < 2; time++) {
      const packed = await script({ 'accept-encoding': encoding });
      expect(packed.headers['content-encoding']).toBe(encoding);
      expect(unpack(packed.bytes).toString('utf8')).toBe(SCRIPT);
      for (const header of ['content-type', 'x-content-type-options', 'content-security-policy'])
        expect(packed.headers[header]).toBe(plain.headers[header]);
      expect(packed.headers['cache-control']).toMatch(/max-age=31536000.*immutable/);
      expect(named(packed, 'vary')).toContain('accept-encoding');
    }
    expect(named(plain, 'vary')).toContain('accept-encoding');
  });
  it('are whole in their plain form, in part, and without a body for HEAD', async () => {
    expect((await script({})).text).toBe(SCRIPT);
    const part = await script({ ...gzip, range: 'bytes=0-9' });
    expect([part.status, part.text]).toEqual([206, SCRIPT.slice(0, 10)]);
    const head = await script(gzip, 'HEAD');
    expect([head.status, head.text]).toEqual([200, '']);
  });
  it.each(['/assets/missing-d4e5f6.js', '/assets/.hidden.js', '/assets/%00.js'])(
    'are only those that were built: not %s',
    async (path) => {
      expect((await ask(server.url, 'GET', path, { headers: gzip })).status).toBe(404);
    },
  );
});

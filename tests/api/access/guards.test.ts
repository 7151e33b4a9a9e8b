import { mkdirSync, statSync } from 'node:fs';
import { hostname, networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { setOwnerPassword } from '../../../api/access/access-file.ts';
import { PAYLOADS } from '../../../api/contract/payloads.ts';
import type { RoutePayload } from '../../../api/contract/route-payload.ts';
import { ROUTE_IDS, ROUTES, type RouteId, routePath } from '../../../api/contract/route-table.ts';
import { type Answer, ask, askRoute } from '../http/asking.ts';
import { type RunningServer, startServer, temporaryFolder } from '../http/running-server.ts';

const CHANGING = ROUTE_IDS.filter((id) => ROUTES[id].method !== 'GET');
const pathOf = (id: RouteId) => routePath(id, { id: 'sample' });
const code = (answer: Answer) => answer.json?.code;

describe('on loopback', () => {
  let server: RunningServer;
  beforeAll(async () => {
    server = await startServer();
  });
  afterAll(() => server.stop());
  const get = (host: string) => ask(server.url, 'GET', '/api/health', { headers: { host } });

  it.each(['127.0.0.1', 'localhost', 'LOCALHOST', '[::1]', '127.8.8.8'])('%s with our port names us', async (name) => {
    expect((await get(`${name}:${server.httpPort}`)).status).toBe(200);
  });
  it.each([
    ['another name', 'diary.example'],
    ['a name that begins as ours', 'localhost.example'],
    ['a name that ends as ours', 'example.localhost'],
    ['an address of another machine', '192.0.2.7'],
    ['an unusable one', 'a b'],
    ['digits that a browser might read as loopback', '2130706433'],
  ])('421 for %s, whatever is asked', async (_name, host) => {
    for (const path of ['/api/health', '/metrics', '/', '/api/nothing']) {
      const answer = await ask(server.url, 'GET', path, { headers: { host: `${host}:${server.httpPort}` } });
      expect([answer.status, code(answer)]).toEqual([421, 'misdirected_request']);
    }
  });
  it('421 for another port and for none', async () => {
    expect((await get(`127.0.0.1:${server.httpPort + 1}`)).status).toBe(421);
    expect((await get('127.0.0.1')).status).toBe(421);
  });
  it('headers of a proxy are not believed', async () => {
    const headers = { host: 'diary.example', 'x-forwarded-host': `127.0.0.1:${server.httpPort}` };
    expect((await ask(server.url, 'GET', '/api/health', { headers })).status).toBe(421);
  });
  it.each(CHANGING)('%s is refused to a page of another origin', async (id) => {
    for (const origin of [
      'http://evil.example',
      'null',
      `https://127.0.0.1:${server.httpPort}`,
      `http://127.0.0.1:${server.httpPort + 1}`,
    ]) {
      const answer = await ask(server.url, ROUTES[id].method, pathOf(id), { headers: { origin }, body: {} });
      expect([answer.status, code(answer)], origin).toEqual([403, 'foreign_origin']);
    }
  });
  it.each(CHANGING)('%s takes no body that a form of another page could send', async (id) => {
    for (const type of ['text/plain', 'application/x-www-form-urlencoded', 'multipart/form-data; boundary=x']) {
      const answer = await ask(server.url, ROUTES[id].method, pathOf(id), {
        headers: { 'content-type': type },
        body: 'a=b',
      });
      expect([answer.status, code(answer)], type).toEqual([415, 'unsupported_content_type']);
    }
  });
  it('our own page and programs without an Origin may', async () => {
    const body = { name: '12 Sample Row', timeZone: 'UTC' };
    for (const headers of [{}, { origin: server.url }])
      expect((await askRoute(server.url, 'createSite', { body, headers })).status).toBe(201);
  });
  it('a page elsewhere is given no permission to read', async () => {
    const answer = await ask(server.url, 'GET', '/api/sites', { headers: { origin: 'http://evil.example' } });
    expect(answer.headers['access-control-allow-origin']).toBeUndefined();
    expect(answer.headers['cross-origin-resource-policy']).toBe('same-origin');
    const preflight = await ask(server.url, 'OPTIONS', '/api/sites', { headers: { origin: 'http://evil.example' } });
    expect(preflight.headers['access-control-allow-origin']).toBeUndefined();
  });
  it('the policy lets nothing in from elsewhere and nothing inline', async () => {
    const policy = (await ask(server.url, 'GET', '/api/health')).headers['content-security-policy'];
    expect(policy).toContain("default-src 'self'");
    expect(policy).not.toMatch(/unsafe|http:|https:|\*/);
  });
});

describe('listening elsewhere', () => {
  const PASSWORD = 'bucket lantern oxbow seventeen';
  let server: RunningServer;
  let base: string;
  beforeAll(async () => {
    const folder = temporaryFolder();
    await setOwnerPassword(folder, PASSWORD);
    server = await startServer(
      { httpHost: '0.0.0.0', dataFolder: folder },
      { commandToken: 'token-of-the-data-folder' },
    );
    base = `http://127.0.0.1:${server.httpPort}`;
  });
  afterAll(() => server.stop());

  it('is refused until a password is set', async () => {
    const folder = join(temporaryFolder(), 'data');
    mkdirSync(folder);
    await expect(startServer({ httpHost: '0.0.0.0', dataFolder: folder })).rejects.toMatchObject({
      code: 'password_needed',
    });
  });
  it('keeps the file of passwords and sessions to its owner', () => {
    expect(statSync(join(server.folder, 'access.json')).mode & 0o777).toBe(0o600);
  });
  it('401 on every route but health and the sign-in itself', async () => {
    for (const id of ROUTE_IDS) {
      const payload: RoutePayload = PAYLOADS[id];
      const headers = { 'content-type': payload.bodyTypes?.[0] ?? 'application/json' };
      const answer = await ask(base, ROUTES[id].method, pathOf(id), { headers, body: '{}' });
      if (['health', 'getSession', 'signIn', 'signOut'].includes(id))
        expect(code(answer), id).not.toBe('sign_in_needed');
      else expect([answer.status, code(answer)], id).toEqual([401, 'sign_in_needed']);
    }
  });
  it('signs in, is let in by the cookie, signs out', async () => {
    expect((await askRoute(base, 'getSession')).json).toEqual({
      accountExists: true,
      signedIn: false,
      needsSignIn: true,
    });
    const signedIn = await askRoute(base, 'signIn', { body: { password: PASSWORD } });
    expect(signedIn.json).toEqual({ accountExists: true, signedIn: true, needsSignIn: false });
    const [set] = signedIn.headers['set-cookie'] ?? [];
    expect(set).toMatch(/^mainsdiary_session=[\w-]{43}; HttpOnly; SameSite=Strict; Path=\/; Max-Age=\d+$/);
    const cookie = set!.split(';')[0]!;
    expect((await askRoute(base, 'listSites', { headers: { cookie } })).status).toBe(200);
    const forged = `${cookie.slice(0, -1)}${cookie.endsWith('A') ? 'B' : 'A'}`;
    expect((await askRoute(base, 'listSites', { headers: { cookie: forged } })).status).toBe(401);
    expect((await askRoute(base, 'signOut', { headers: { cookie } })).status).toBe(204);
    expect((await askRoute(base, 'listSites', { headers: { cookie } })).status).toBe(401);
  });
  it('lets commands in by the token of the data folder', async () => {
    const asking = (token: string) => askRoute(base, 'listSites', { headers: { authorization: `Bearer ${token}` } });
    expect((await asking('token-of-the-data-folder')).status).toBe(200);
    expect((await asking('token-of-another-folder!')).status).toBe(401);
  });
  it('a new password ends all sessions at once, in a running server too', async () => {
    const signedIn = await askRoute(base, 'signIn', { body: { password: PASSWORD } });
    const cookie = signedIn.headers['set-cookie']![0]!.split(';')[0]!;
    await setOwnerPassword(server.folder, PASSWORD);
    expect((await askRoute(base, 'listSites', { headers: { cookie } })).status).toBe(401);
  });
  it('is reached by the addresses of this machine and its name, not by a name that a stranger chose', async () => {
    const status = async (name: string) =>
      (await ask(base, 'GET', '/api/health', { headers: { host: `${name}:${server.httpPort}` } })).status;
    const addresses = Object.values(networkInterfaces()).flatMap((list) => list ?? []);
    for (const { address, family } of addresses.slice(0, 4))
      if (!address.includes('%')) expect(await status(family === 'IPv6' ? `[${address}]` : address), address).toBe(200);
    expect(await status(hostname())).toBe(200);
    expect(await status('rebound.example')).toBe(421);
  });
  it('slows guessing from one address', async () => {
    const guess = () => askRoute(base, 'signIn', { body: { password: 'not that one' } });
    const codes: unknown[] = [];
    for (let i = 0; i < 4; i++) codes.push(code(await guess()));
    expect(codes).toEqual(['wrong_password', 'wrong_password', 'wrong_password', 'sign_in_slowed']);
    const slowed = await askRoute(base, 'signIn', { body: { password: PASSWORD } });
    expect(slowed.status).toBe(429);
    expect(Number(slowed.headers['retry-after'])).toBeGreaterThan(0);
  });
});

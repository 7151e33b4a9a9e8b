import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ownerPasswordExists, setOwnerPassword } from '../../../api/access/access-file.ts';
import { createFailedAttempts } from '../../../api/access/failed-attempts.ts';
import { createLoggerKey, hashLoggerKey, loggerAuthenticator } from '../../../api/access/logger-key.ts';
import { createOwnHosts } from '../../../api/access/own-hosts.ts';
import { createOwnerAccess, SESSION_MS } from '../../../api/access/owner-access.ts';
import { hashPassword, matchesPassword } from '../../../api/access/password-hash.ts';
import { sessionCookie, sessionTokenOf } from '../../../api/access/session-cookie.ts';
import { temporaryFolder } from '../http/running-server.ts';

describe('keys of loggers', () => {
  it('are 130 bits in letters that are not mistaken for one another, each another', () => {
    const keys = new Set(Array.from({ length: 1000 }, createLoggerKey));
    expect(keys.size).toBe(1000);
    for (const key of keys) expect(key).toMatch(/^[0-9a-hjkmnp-tv-z]{26}$/);
  });
  it('are kept as SHA-256: the test vector of FIPS 180-2 appendix B.1', () => {
    expect(hashLoggerKey('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad');
  });
  it('let in their own logger only, and none that is hidden', async () => {
    const key = createLoggerKey();
    const loggers = new Map([
      ['front-hall', { id: 'front-hall', createdMs: 0, keySha256: hashLoggerKey(key) }],
      ['hidden', { id: 'hidden', createdMs: 0, keySha256: hashLoggerKey(key), hiddenMs: 1 }],
      ['without', { id: 'without', createdMs: 0, keySha256: '' }],
    ]);
    const authenticate = loggerAuthenticator({ logger: async (id) => loggers.get(id) });
    expect(await authenticate('front-hall', key)).toBe(true);
    expect(await authenticate('front-hall', `${key}x`)).toBe(false);
    expect(await authenticate('front-hall', '')).toBe(false);
    for (const id of ['hidden', 'without', 'nobody']) expect(await authenticate(id, key), id).toBe(false);
    expect(await authenticate('without', '')).toBe(false);
  });
});

describe('the password', () => {
  it('matches itself only, under a salt of its own', async () => {
    const kept = await hashPassword('bucket lantern oxbow');
    expect(kept.cost).toBeGreaterThanOrEqual(2 ** 15);
    expect(await matchesPassword('bucket lantern oxbow', kept)).toBe(true);
    expect(await matchesPassword('bucket lantern oxbox', kept)).toBe(false);
    expect((await hashPassword('bucket lantern oxbow')).hash).not.toBe(kept.hash);
  });
  it('is the same however a keyboard composes its letters (Unicode NFKC)', async () => {
    expect(await matchesPassword('cafe\u0301 au lait, deux', await hashPassword('caf\u00e9 au lait, deux'))).toBe(true);
  });
  it('is refused when short, and never stands in the file', async () => {
    const folder = temporaryFolder();
    await expect(setOwnerPassword(folder, 'short')).rejects.toMatchObject({ code: 'password_unfit' });
    expect(ownerPasswordExists(folder)).toBe(false);
    await setOwnerPassword(folder, 'bucket lantern oxbow');
    expect(ownerPasswordExists(folder)).toBe(true);
    expect(readFileSync(join(folder, 'access.json'), 'utf8')).not.toContain('bucket');
  });
});

describe('sessions', () => {
  it('end by themselves, survive a restart, and stand in the file as digests only', async () => {
    const folder = temporaryFolder();
    await setOwnerPassword(folder, 'bucket lantern oxbow');
    let nowMs = 1_777_000_000_000;
    const clock = { nowMs: () => nowMs, every: () => () => {} };
    const open = () => createOwnerAccess({ folder, clock, required: true, commandToken: undefined });
    const token = await open().signIn('bucket lantern oxbow', '192.0.2.1');
    expect(open().isSignedIn(token, undefined)).toBe(true);
    expect(readFileSync(join(folder, 'access.json'), 'utf8')).not.toContain(token);
    nowMs += SESSION_MS;
    expect(open().isSignedIn(token, undefined)).toBe(false);
  });
  it('cookies carry every attribute, more under TLS, and read back', () => {
    const token = 'A'.repeat(43);
    expect(sessionTokenOf(`other=1; ${sessionCookie(token, false).split(';')[0]}`, false)).toBe(token);
    const secure = sessionCookie(token, true);
    expect(secure).toMatch(/^__Host-mainsdiary_session=.*; Secure$/);
    expect(sessionTokenOf(secure.split(';')[0], true)).toBe(token);
    expect(sessionTokenOf(secure.split(';')[0], false)).toBeUndefined();
    expect(sessionCookie(undefined, false)).toContain('Max-Age=0');
  });
});

describe('failed attempts', () => {
  it('wait twice as long each time, up to a quarter of an hour, and are forgotten after an hour', () => {
    const attempts = createFailedAttempts();
    const waits: number[] = [];
    for (let i = 0; i < 16; i++) {
      attempts.failed('192.0.2.1', 0);
      waits.push(attempts.waitMs('192.0.2.1', 0) / 1000);
    }
    expect(waits).toEqual([0, 0, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900, 900, 900]);
    expect(attempts.waitMs('192.0.2.2', 0)).toBe(0);
    expect(attempts.waitMs('192.0.2.1', 3_600_001)).toBe(0);
    attempts.succeeded('192.0.2.1');
    expect(attempts.waitMs('192.0.2.1', 0)).toBe(0);
  });
  it('count one IPv6 network as one address, and an IPv4 address in both its forms', () => {
    const attempts = createFailedAttempts();
    for (const host of ['1', '2', '3', 'abcd:1:2:3'])
      attempts.failed(`2001:db8:1:2:${host.includes(':') ? '' : ':'}${host}`, 0);
    expect(attempts.waitMs('2001:db8:1:2::99', 0)).toBeGreaterThan(0);
    expect(attempts.waitMs('2001:db8:1:3::1', 0)).toBe(0);
    for (let i = 0; i < 4; i++) attempts.failed('::ffff:192.0.2.9', 0);
    expect(attempts.waitMs('192.0.2.9', 0)).toBeGreaterThan(0);
  });
});

describe('hosts that are ours', () => {
  const hosts = (httpHost: string, tls = false, port = 8080) => createOwnHosts({ httpHost, port: () => port, tls });
  it('never hold a name that nobody set, whatever it looks like', () => {
    fc.assert(
      fc.property(
        fc.domain(),
        (name) => !hosts('127.0.0.1').isOurs(`${name}:8080`) && !hosts('192.0.2.5').isOurs(`${name}:8080`),
      ),
    );
  });
  it('are never thrown off by what a header may hold', () => {
    fc.assert(fc.property(fc.string(), (text) => typeof hosts('0.0.0.0').isOurs(text) === 'boolean'));
  });
  it.each([
    ['diary.example', 'diary.example:8080', true],
    ['diary.example', 'Diary.Example:8080', true],
    ['diary.example', '192.0.2.5:8080', false],
    ['192.0.2.5', '192.0.2.5:8080', true],
    ['192.0.2.5', 'localhost:8080', true],
    ['::', '[2001:db8::1]:8080', true],
    ['127.0.0.1', '[2001:db8::1]:8080', false],
  ])('set to %s, Host %s: %s', (httpHost, host, ours) => {
    expect(hosts(httpHost).isOurs(host)).toBe(ours);
  });
  it('may leave out the port that the scheme implies (RFC 9110, 4.2)', () => {
    expect(hosts('localhost', false, 80).isOurs('localhost')).toBe(true);
    expect(hosts('localhost', true, 443).isOurs('localhost')).toBe(true);
    expect(hosts('localhost', true, 80).isOurs('localhost')).toBe(false);
  });
  it('have one origin: scheme, name and port', () => {
    expect(hosts('localhost').isOwnOrigin('http://localhost:8080', 'localhost:8080')).toBe(true);
    expect(hosts('localhost', true).isOwnOrigin('http://localhost:8080', 'localhost:8080')).toBe(false);
    expect(hosts('localhost').isOwnOrigin('http://127.0.0.1:8080', 'localhost:8080')).toBe(false);
  });
});

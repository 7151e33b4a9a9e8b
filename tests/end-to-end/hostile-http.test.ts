import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { gzipSync } from 'node:zlib';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { addLogger, addSite } from '../support/api.ts';
import { eventually, type RunningProgram, startProgram } from '../support/program.ts';
import { closed } from '../support/raw-mqtt.ts';
import { hostilePayload, randomFrom } from './hostile-corpus.ts';

const LIMIT_MS = 300_000;
const BODIES = 1000;
const SEED = 20260509;

let program: RunningProgram;
let site: string;
beforeAll(async () => {
  program = await startProgram();
  site = await addSite(program.base);
  await addLogger(program.base, site, 'front-hall');
});
afterAll(() => program?.kill());
const sockets: (Socket | WebSocket)[] = [];
afterEach(async () => {
  for (const socket of sockets.splice(0)) socket instanceof WebSocket ? socket.terminate() : socket.destroy();
  expect((await fetch(`${program.base}/api/health`)).status).toBe(200);
});

const residentMb = (): number =>
  Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${program.process.pid}/status`, 'utf8'))![1]) / 1000;

interface RawAnswer {
  readonly status: number;
  readonly code: string | undefined;
  readonly text: string;
}

function open(): Socket {
  const socket = connect(program.httpPort, '127.0.0.1');
  socket.on('error', () => undefined);
  sockets.push(socket);
  return socket;
}

/** Sends bytes as they are and reads until the server has said all that it will. */
async function raw(request: string | Uint8Array): Promise<RawAnswer> {
  const socket = open();
  let text = '';
  socket.on('data', (chunk: Buffer) => {
    text += chunk.toString('latin1');
  });
  socket.write(request);
  await eventually(
    async () => socket.closed || /\r\n\r\n[\s\S]*(\}|<\/html>\s*)$/.test(text),
    (done) => done,
  );
  socket.destroy();
  return { status: Number(text.slice(9, 12)), code: /"code":"(\w+)"/.exec(text)?.[1], text };
}

const own = () => `Host: 127.0.0.1:${program.httpPort}\r\n`;
const get = (path: string, more = '') => `GET ${path} HTTP/1.1\r\n${own()}${more}Connection: close\r\n\r\n`;
const json = (method: string, path: string, body: string | Uint8Array, more = '') =>
  Buffer.concat([
    Buffer.from(
      `${method} ${path} HTTP/1.1\r\n${own()}Content-Type: application/json\r\nContent-Length: ${Buffer.byteLength(body)}\r\nConnection: close\r\n${more}\r\n`,
    ),
    Buffer.from(body),
  ]);

describe('requests that nobody should send', () => {
  it.each<[string, () => string | Uint8Array, number, string]>([
    [
      'a Host of another name',
      () => 'GET /api/sites HTTP/1.1\r\nHost: evil.example\r\n\r\n',
      421,
      'misdirected_request',
    ],
    ['no Host', () => 'GET /api/sites HTTP/1.0\r\n\r\n', 421, 'misdirected_request'],
    [
      'another Origin',
      () => json('POST', '/api/sites', '{}', 'Origin: http://evil.example\r\n'),
      403,
      'foreign_origin',
    ],
    ['an Origin of nothing', () => json('POST', '/api/sites', '{}', 'Origin: null\r\n'), 403, 'foreign_origin'],
    ['no HTTP at all', () => 'hello\r\n\r\n', 400, 'invalid_request'],
    ['a TLS greeting', () => Buffer.from('16030100c8010000c40303', 'hex'), 400, 'invalid_request'],
    ['an MQTT CONNECT', () => Buffer.from('101000044d5154540402003c000474657374', 'hex'), 400, 'invalid_request'],
    [
      'two lengths',
      () => `POST /api/sites HTTP/1.1\r\n${own()}Content-Length: 1\r\nContent-Length: 2\r\n\r\nx`,
      400,
      'invalid_request',
    ],
    [
      'a length and chunks',
      () => `POST /api/sites HTTP/1.1\r\n${own()}Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n`,
      400,
      'invalid_request',
    ],
    [
      'a chunk of no size',
      () =>
        `POST /api/sites HTTP/1.1\r\n${own()}Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n`,
      400,
      'invalid_request',
    ],
    ['a header with a line end in it', () => get('/api/sites', 'X: a\rb\r\n'), 400, 'invalid_request'],
    ['headers without end', () => get('/api/sites', `X: ${'x'.repeat(20_000)}\r\n`), 431, 'headers_too_large'],
    [
      'thousands of headers',
      () => get('/api/sites', Array.from({ length: 5000 }, (_, i) => `X${i}: 1\r\n`).join('')),
      431,
      'headers_too_large',
    ],
    ['an address without end', () => get(`/api/${'x'.repeat(20_000)}`), 431, 'headers_too_large'],
    ['a path with a nought in it', () => get('/index.html%00.css'), 404, 'unknown_file'],
    ['a broken escape', () => get('/api/loggers/%ff'), 400, 'invalid_request'],
    ['the name of a prototype', () => get('/api/loggers/__proto__'), 404, 'unknown_logger'],
    ['a body that is no JSON', () => json('POST', '/api/sites', '{"name":'), 400, 'invalid_json'],
    ['a body nested without end', () => json('POST', '/api/sites', '['.repeat(50_000)), 400, 'invalid_json'],
    [
      'a body that is too large',
      () => json('POST', '/api/sites', `{"name":"${'x'.repeat(3_000_000)}"}`),
      413,
      'body_too_large',
    ],
    [
      'a packed body',
      () => json('POST', '/api/sites', gzipSync('{}'), 'Content-Encoding: gzip\r\n'),
      415,
      'unsupported_content_type',
    ],
    [
      'a character set nobody has',
      () =>
        `POST /api/sites HTTP/1.1\r\n${own()}Content-Type: application/json; charset=klingon\r\nContent-Length: 2\r\nConnection: close\r\n\r\n{}`,
      415,
      'unsupported_content_type',
    ],
    [
      'a form',
      () => `POST /api/sites HTTP/1.1\r\n${own()}Content-Type: text/plain\r\nContent-Length: 2\r\n\r\n{}`,
      415,
      'unsupported_content_type',
    ],
    [
      'a prototype in a body',
      () => json('POST', '/api/sites', '{"__proto__":{"name":"x","timeZone":"UTC"}}'),
      400,
      'invalid_request',
    ],
    ['a method of its own', () => `BREW /api/sites HTTP/1.1\r\n${own()}\r\n`, 400, 'invalid_request'],
    ['TRACE', () => `TRACE /api/sites HTTP/1.1\r\n${own()}Connection: close\r\n\r\n`, 405, 'method_not_allowed'],
  ])('%s', async (_what, request, status, code) => {
    const answer = await raw(request());
    expect([answer.status, answer.code]).toEqual([status, code]);
    expect(answer.text).toContain('application/problem+json');
    expect(answer.text).not.toMatch(/root:|\/work\/|node_modules|at .*\.js:\d+/);
  });

  it.each([
    '/../../../../etc/passwd',
    '/%2e%2e/%2e%2e/%2e%2e/etc/passwd',
    '/..%2f..%2f..%2fetc%2fpasswd',
    '/..%5c..%5cetc%5cpasswd',
    '/assets/..%2f..%2f..%2f..%2fpackage.json',
    '/.git/config',
    '//etc/passwd',
  ])('%s is an address within the page, and no file', async (path) => {
    const { status, text } = await raw(get(path));
    expect([200, 301, 400, 404]).toContain(status);
    expect(text).not.toMatch(/root:|"dependencies"|\[core\]/);
  });

  it(
    `${BODIES} hostile bodies (seed ${SEED}): each is answered below 500, with problem details where it is refused`,
    async () => {
      const random = randomFrom(SEED);
      const routes = [
        ['POST', '/api/sites'],
        ['PATCH', `/api/sites/${site}`],
        ['POST', '/api/loggers'],
        ['PATCH', '/api/loggers/front-hall'],
        ['POST', '/api/loggers/front-hall/calibrations'],
      ] as const;
      const seen = new Map<number, number>();
      for (let i = 0; i < BODIES; i++) {
        const [method, path] = routes[i % routes.length]!;
        const response = await fetch(program.base + path, {
          method,
          headers: { 'content-type': 'application/json' },
          body: Buffer.from(hostilePayload(random)),
        });
        const text = await response.text();
        expect(response.status, `${method} ${path}: ${text.slice(0, 300)}`).toBeLessThan(500);
        if (response.status >= 400) expect(text).toMatch(/"code":"\w+"/);
        seen.set(response.status, (seen.get(response.status) ?? 0) + 1);
      }
      console.log(`answers by status: ${JSON.stringify([...seen])}`);
    },
    LIMIT_MS,
  );

  it(
    'hostile queries: each is answered below 500',
    async () => {
      const random = randomFrom(SEED);
      for (let i = 0; i < BODIES / 2; i++) {
        const value = () => Buffer.from(hostilePayload(random).subarray(0, 300)).toString();
        const query = new URLSearchParams({ channel: 'pressure', from: value(), to: value(), points: value() });
        const path = ['series', 'findings', 'refusals'][i % 3]!;
        const response = await fetch(`${program.base}/api/loggers/front-hall/${path}?${query}`);
        expect(response.status, String(query)).toBeLessThan(500);
        await response.text();
      }
    },
    LIMIT_MS,
  );
});

describe('files that are no logs', () => {
  const send = (body: Uint8Array, type = 'application/gzip') =>
    fetch(`${program.base}/api/loggers/front-hall/import`, {
      method: 'POST',
      headers: { 'content-type': type },
      body: Buffer.from(body),
    });

  it(
    'a gzip bomb of rows (800 MB from 2 MB) and one of noughts are refused, and memory stays',
    async () => {
      const before = residentMb();
      const rows = Buffer.from('2026-05-04T06:00:00Z,1.5\n'.repeat(400_000));
      const member = gzipSync(rows);
      // Members of one file follow each other (RFC 1952 section 2.2).
      const bombs = [
        Buffer.concat([gzipSync('time,pressure_bar\n'), ...Array.from({ length: 80 }, () => member)]),
        gzipSync(Buffer.alloc(200_000_000)),
      ];
      for (const bomb of bombs) {
        const response = await send(bomb);
        const text = await response.text();
        expect(response.status, text).toBe(400);
        expect(text).toMatch(/"code":"(unreadable_csv|unknown_column)"/);
      }
      expect(residentMb() - before).toBeLessThan(250);
    },
    LIMIT_MS,
  );

  it.each([
    ['a gzip cut short', () => gzipSync('time,pressure_bar\n2026-05-04T06:00:00Z,1.5\n'.repeat(1000)).subarray(0, 100)],
    ['a row without end', () => gzipSync(Buffer.alloc(30_000_000, 0x61))],
    [
      'a quote that is never closed',
      () => gzipSync(`time,pressure_bar\n"${'2026-05-04T06:00:00Z,1.5\n'.repeat(100_000)}`),
    ],
    ['a thousand columns', () => gzipSync(`${Array.from({ length: 5000 }, (_, i) => `c${i}`).join(',')}\n`)],
  ])('%s is refused in words', async (_what, body) => {
    const response = await send(body());
    const text = await response.text();
    expect([response.status >= 400, response.status < 500], text).toEqual([true, true]);
    expect(text).toMatch(/"code":"\w+"/);
  });
});

describe('connections that hold on', () => {
  it.runIf(process.env['HOSTILE_MESSAGES'])(
    'headers and JSON bodies that drip are ended in words, while others are served',
    async () => {
      const drips = [
        ...Array.from({ length: 20 }, () => `GET /api/sites HTTP/1.1\r\n${own()}X: `),
        ...Array.from(
          { length: 20 },
          () =>
            `POST /api/sites HTTP/1.1\r\n${own()}Content-Type: application/json\r\nContent-Length: 100000\r\n\r\n{"name":"`,
        ),
      ].map((beginning) => {
        const socket = open();
        let text = '';
        socket.on('data', (chunk: Buffer) => {
          text += chunk.toString();
        });
        socket.write(beginning);
        const timer = setInterval(() => socket.writable && socket.write('x'), 500);
        socket.once('close', () => clearInterval(timer));
        return { socket, text: () => text };
      });
      expect((await fetch(`${program.base}/api/sites`)).status).toBe(200);
      await Promise.all(drips.map(({ socket }) => closed(socket)));
      for (const { text } of drips) expect(text()).toMatch(/^HTTP\/1\.1 408 [\s\S]*"code":"request_too_slow"/);
    },
    LIMIT_MS,
  );

  it(
    'WebSockets: readers are counted, and pings of one that never reads do not pile up',
    async () => {
      const address = `ws://127.0.0.1:${program.httpPort}/api/live`;
      const answers = await Promise.all(
        Array.from({ length: 150 }, async () => {
          const socket = new WebSocket(address);
          sockets.push(socket);
          socket.on('error', () => undefined);
          const [event] = await Promise.race([
            once(socket, 'open').then(() => ['open']),
            once(socket, 'unexpected-response').then(([, response]) => [String(response.statusCode)]),
          ]);
          return event;
        }),
      );
      expect(answers.filter((answer) => answer === 'open')).toHaveLength(100);
      expect(answers.filter((answer) => answer === '503')).toHaveLength(50);
      for (const socket of sockets.splice(0)) (socket as WebSocket).terminate();
      await eventually(
        async () =>
          (await (await fetch(`${program.base}/metrics`)).text()).match(/^mainsdiary_live_readers\S* (\d+)/m)?.[1],
        (readers) => readers === '0',
      );

      const before = residentMb();
      const socket = open();
      socket.write(
        `GET /api/live HTTP/1.1\r\n${own()}Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n`,
      );
      await once(socket, 'data');
      socket.pause();
      // A ping of 125 bytes with a mask of noughts (RFC 6455 sections 5.2 and 5.5.2), a million times.
      const ping = Buffer.concat([Buffer.of(0x89, 0x80 | 125, 0, 0, 0, 0), Buffer.alloc(125)]);
      const thousand = Buffer.concat(Array.from({ length: 1000 }, () => ping));
      for (let i = 0; i < 1000 && !socket.destroyed; i++)
        if (!socket.write(thousand)) await Promise.race([once(socket, 'drain'), closed(socket)]).catch(() => undefined);
      expect(residentMb() - before).toBeLessThan(100);
    },
    LIMIT_MS,
  );
});

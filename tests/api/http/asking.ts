import { type ClientRequest, type IncomingHttpHeaders, request } from 'node:http';
import { PAYLOADS } from '../../../api/contract/payloads.ts';
import type { RoutePayload } from '../../../api/contract/route-payload.ts';
import { ROUTES, type RouteId, routePath } from '../../../api/contract/route-table.ts';

/** An answer as it came. */
export interface Answer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  readonly text: string;
  readonly bytes: Buffer;
  // biome-ignore lint/suspicious/noExplicitAny: tests look into answers of every shape
  readonly json: any;
}

export interface Asking {
  readonly params?: Record<string, string>;
  readonly query?: Record<string, string>;
  readonly headers?: Record<string, string>;
  readonly body?: unknown;
}

/** Asks a path with headers that fetch would not let through (Host, Origin). */
export function ask(base: string, method: string, path: string, asking: Omit<Asking, 'params'> = {}): Promise<Answer> {
  const url = new URL(path, base);
  for (const [name, value] of Object.entries(asking.query ?? {})) url.searchParams.set(name, value);
  const raw = asking.body instanceof Buffer || typeof asking.body === 'string';
  const body = asking.body === undefined ? undefined : raw ? (asking.body as Buffer) : JSON.stringify(asking.body);
  const headers = {
    ...(body === undefined ? {} : { 'content-length': String(Buffer.byteLength(body)) }),
    ...(body === undefined || raw ? {} : { 'content-type': 'application/json' }),
    ...asking.headers,
  };
  return new Promise((resolve, reject) => {
    const sent: ClientRequest = request(url, { method, headers, agent: false }, (response) => {
      const parts: Buffer[] = [];
      response.on('data', (part: Buffer) => parts.push(part));
      response.on('error', reject);
      response.on('end', () => {
        const bytes = Buffer.concat(parts);
        const text = bytes.toString('utf8');
        const packed = response.headers['content-encoding'] !== undefined;
        const isJson = !packed && /json/.test(response.headers['content-type'] ?? '');
        resolve({
          status: response.statusCode ?? 0,
          headers: response.headers,
          text,
          bytes,
          json: isJson ? JSON.parse(text) : undefined,
        });
      });
    });
    sent.on('error', reject);
    sent.end(body);
  });
}

/** Asks a route and holds a good answer to its schema: an answer that the contract doesn't describe is a fault. */
export async function askRoute(base: string, id: RouteId, asking: Asking = {}): Promise<Answer> {
  const answer = await ask(base, ROUTES[id].method, routePath(id, asking.params), asking);
  const payload: RoutePayload = PAYLOADS[id];
  if (answer.status >= 200 && answer.status < 300) {
    if (answer.status !== payload.status)
      throw new Error(`${id} answered ${answer.status} instead of ${payload.status}`);
    if (payload.response && answer.json !== undefined) payload.response.parse(answer.json);
    if (!payload.response && answer.text !== '') throw new Error(`${id} answered ${answer.text} instead of nothing`);
  }
  return answer;
}

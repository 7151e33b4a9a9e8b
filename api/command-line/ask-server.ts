import { type IncomingMessage, request as requestHttp } from 'node:http';
import { request as requestHttps } from 'node:https';
import { Problem } from '../../collector/model/problem.ts';
import { ROUTES, type RouteId, routePath } from '../contract/route-table.ts';
import type { LocalServer } from './import-through-server.ts';

/** An answer in JSON is a page of text; more isn't ours. */
const MAX_JSON_BYTES = 4 * 1024 * 1024;

/**
 * Asks a route of the server that holds the data folder, as the owner's command, and gives the answer once its headers
 * came. Rejects with the server's own Problem, or with `server_unreachable` where it doesn't answer.
 */
export async function askServer(server: LocalServer, id: RouteId): Promise<IncomingMessage> {
  const url = new URL(routePath(id), server.address);
  const response = await new Promise<IncomingMessage>((resolve, reject) => {
    const request = url.protocol === 'https:' ? requestHttps : requestHttp;
    const asked = request(url, {
      method: ROUTES[id].method,
      headers: { authorization: `Bearer ${server.token}` },
      agent: false,
      // The certificate names the host that others use; over loopback the token proves who we are to whom.
      rejectUnauthorized: false,
    });
    asked.on('response', resolve);
    asked.on('error', (cause) => reject(unreachable(server, cause.message, cause)));
    asked.end();
  });
  if (response.statusCode === 200) return response;
  const body = (await readJson(server, response)) as Record<string, unknown>;
  const { code, detail, hint, title } = body;
  const text = (value: unknown) => (typeof value === 'string' ? value : '');
  throw new Problem(text(code) || 'server_unreachable', text(detail) || text(title), text(hint));
}

/** The JSON of an answer. */
export async function askServerForJson<Answer>(server: LocalServer, id: RouteId): Promise<Answer> {
  return (await readJson(server, await askServer(server, id))) as Answer;
}

async function readJson(server: LocalServer, response: IncomingMessage): Promise<unknown> {
  const parts: Buffer[] = [];
  let length = 0;
  try {
    for await (const part of response as AsyncIterable<Buffer>) {
      length += part.length;
      if (length > MAX_JSON_BYTES) throw new Error('its answer is too long');
      parts.push(part);
    }
    return JSON.parse(Buffer.concat(parts).toString('utf8'));
  } catch (cause) {
    throw unreachable(server, `it answered ${response.statusCode} with something that can't be read`, cause);
  }
}

export function unreachable(server: LocalServer, why: string, cause: unknown): Problem {
  return new Problem(
    'server_unreachable',
    `The server at ${server.address} holds the data folder but can't be asked: ${why}.`,
    'Look at its page or its log; once it has stopped, the command works without it.',
    { cause },
  );
}

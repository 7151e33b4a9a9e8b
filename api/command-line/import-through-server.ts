import { request as requestHttp } from 'node:http';
import { request as requestHttps } from 'node:https';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream';
import type { CsvOptions } from '../../collector/csv/csv-options.ts';
import type { ImportReport } from '../../collector/csv/import-csv.ts';
import { Problem } from '../../collector/model/problem.ts';

/** Where the server that holds the data folder listens, and what lets a command on this machine in. */
export interface LocalServer {
  /** `http://127.0.0.1:8080` */
  readonly address: string;
  readonly token: string;
}

const PARAMETERS = [
  'channel',
  'time',
  'value',
  'unit',
  'zone',
  'date',
  'dateOrder',
  'clockForm',
  'decimal',
  'delimiter',
] as const satisfies readonly (keyof CsvOptions)[];

/** An answer of the import route is a page of text; more isn't ours. */
const MAX_ANSWER_BYTES = 1_048_576;

/**
 * Sends a file to the server's import route and gives its report. Rejects with the server's own Problem (its code,
 * message, hint and questions), or with `server_unreachable` where it doesn't answer.
 */
export async function importThroughServer(
  server: LocalServer,
  options: CsvOptions,
  input: Readable,
  gzip: boolean,
): Promise<ImportReport> {
  const url = new URL(`/api/loggers/${encodeURIComponent(options.loggerId)}/import`, server.address);
  for (const name of PARAMETERS) {
    const value = options[name];
    if (value !== undefined) url.searchParams.set(name, value);
  }
  const answer = await post(url, server.token, input, gzip ? 'application/gzip' : 'text/csv');
  let body: unknown;
  try {
    body = JSON.parse(answer.text);
  } catch (cause) {
    throw unreachable(server, `it answered ${answer.status} with something that isn't JSON`, cause);
  }
  if (answer.status === 200) return body as ImportReport;
  const { code, detail, hint, title, ...details } = body as Record<string, unknown>;
  const text = (value: unknown) => (typeof value === 'string' ? value : '');
  throw new Problem(text(code) || 'server_unreachable', text(detail) || text(title), text(hint), { details });

  function post(to: URL, token: string, from: Readable, type: string): Promise<{ status: number; text: string }> {
    return new Promise((resolve, reject) => {
      const fail = (cause: unknown) =>
        reject(cause instanceof Problem ? cause : unreachable(server, (cause as Error).message, cause));
      const request = to.protocol === 'https:' ? requestHttps : requestHttp;
      // No time limit: a year of samples takes as long as the disk needs.
      const sent = request(to, {
        method: 'POST',
        headers: { 'content-type': type, accept: 'application/json', authorization: `Bearer ${token}` },
        // The certificate names the host that others use; over loopback the token proves who we are to whom.
        rejectUnauthorized: false,
      });
      let answered = false;
      sent.on('response', (response) => {
        answered = true;
        const parts: Buffer[] = [];
        let length = 0;
        response.on('data', (part: Buffer) => {
          length += part.length;
          if (length > MAX_ANSWER_BYTES) response.destroy(new Error('its answer is too long'));
          else parts.push(part);
        });
        response.on('error', fail);
        response.on('end', () =>
          resolve({ status: response.statusCode ?? 0, text: Buffer.concat(parts).toString('utf8') }),
        );
      });
      sent.on('error', (error) => {
        // A refusal may arrive before all of the file is sent, and closes the connection.
        if (!answered) fail(error);
      });
      from.on('error', fail);
      pipeline(from, sent, () => undefined);
    });
  }
}

function unreachable(server: LocalServer, why: string, cause: unknown): Problem {
  return new Problem(
    'server_unreachable',
    `The server at ${server.address} holds the data folder but can't be asked: ${why}.`,
    'Look at its page or its log; once it has stopped, the import works without it.',
    { cause },
  );
}

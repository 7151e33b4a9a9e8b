import { createServer, type RequestListener, type Server } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import type { Duplex } from 'node:stream';
import { Problem } from '../../collector/model/problem.ts';
import { problemBody } from './problem-response.ts';

/** Connections at once; a page takes six or so. */
const CONNECTIONS_LIMIT = 500;
/** Headers must have come by then; a connection without a byte either way is ended after the second. */
const HEADERS_WITHIN_MS = 20_000;
const LOOK_FOR_SLOW_EVERY_MS = 5_000;
const SILENT_LIMIT_MS = 15 * 60_000;
/** What is under way when the program stops has this long to end. */
const END_WITHIN_MS = 3_000;

/** An http or https server with its bounds; it doesn't listen yet. Throws Problem `certificate_unfit`. */
export function createHttpServer(
  listener: RequestListener,
  tls: { readonly cert: Buffer; readonly key: Buffer } | undefined,
): Server {
  const server = tls
    ? secureServer(listener, tls)
    : createServer({ connectionsCheckingInterval: LOOK_FOR_SLOW_EVERY_MS }, listener);
  server.maxConnections = CONNECTIONS_LIMIT;
  server.headersTimeout = HEADERS_WITHIN_MS;
  // An import has no limit of size, so none of time: silence is what ends it.
  server.requestTimeout = 0;
  server.timeout = SILENT_LIMIT_MS;
  server.on('clientError', refuseUnreadable);
  return server;
}

/** Stops listening, lets answers end for a moment, then ends the connections. Always resolves. */
export function stopHttpServer(server: Server): Promise<void> {
  if (!server.listening) return Promise.resolve();
  return new Promise((resolve) => {
    const limit = setTimeout(() => server.closeAllConnections(), END_WITHIN_MS);
    server.close(() => {
      clearTimeout(limit);
      resolve();
    });
    server.closeIdleConnections();
  });
}

/** What isn't HTTP, or too much of it, is told in the form of any other refusal. */
function refuseUnreadable(error: NodeJS.ErrnoException, socket: Duplex): void {
  // An answer that has begun, as Node itself looks for it: another in its midst would only confuse.
  const { _httpMessage: begun } = socket as Duplex & { _httpMessage?: { headersSent: boolean } | null };
  if (!socket.writable || error.code === 'ECONNRESET' || begun?.headersSent) {
    socket.destroy();
    return;
  }
  const { status, ...body } = problemBody(unreadable(error.code));
  const text = JSON.stringify({ ...body, status });
  socket.end(
    `HTTP/1.1 ${status} Refused\r\nContent-Type: application/problem+json\r\nContent-Length: ${Buffer.byteLength(text)}\r\nConnection: close\r\n\r\n${text}`,
  );
}

function unreadable(code: string | undefined): Problem {
  switch (code) {
    case 'HPE_HEADER_OVERFLOW':
      return new Problem('headers_too_large', 'The address and headers are larger than 16 kB', 'Send fewer of them');
    case 'ERR_HTTP_REQUEST_TIMEOUT':
      return new Problem(
        'request_too_slow',
        `The headers had not come in full after ${HEADERS_WITHIN_MS / 1000} s`,
        'Send the request in one piece',
      );
    default:
      return new Problem('invalid_request', 'What was sent is not HTTP/1.1 that can be read', 'Send a whole request');
  }
}

function secureServer(listener: RequestListener, tls: { readonly cert: Buffer; readonly key: Buffer }): Server {
  try {
    return createTlsServer(
      { ...tls, minVersion: 'TLSv1.2', connectionsCheckingInterval: LOOK_FOR_SLOW_EVERY_MS },
      listener,
    ) as unknown as Server;
  } catch (cause) {
    throw new Problem(
      'certificate_unfit',
      `The certificate and key can't be used: ${cause instanceof Error ? cause.message : String(cause)}`,
      '--tls-cert takes the certificate chain and --tls-key the private key that belongs to it, both PEM without a passphrase',
      { cause },
    );
  }
}

import { createServer, type RequestListener, type Server } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import { Problem } from '../../collector/model/problem.ts';

/** Connections at once; a page takes six or so. */
const CONNECTIONS_LIMIT = 500;
/** Headers must have come by then; a connection without a byte either way is ended after the second. */
const HEADERS_WITHIN_MS = 20_000;
const SILENT_LIMIT_MS = 15 * 60_000;
/** What is under way when the program stops has this long to end. */
const END_WITHIN_MS = 3_000;

/** An http or https server with its bounds; it doesn't listen yet. Throws Problem `certificate_unfit`. */
export function createHttpServer(
  listener: RequestListener,
  tls: { readonly cert: Buffer; readonly key: Buffer } | undefined,
): Server {
  const server = tls ? secureServer(listener, tls) : createServer(listener);
  server.maxConnections = CONNECTIONS_LIMIT;
  server.headersTimeout = HEADERS_WITHIN_MS;
  // An import has no limit of size, so none of time: silence is what ends it.
  server.requestTimeout = 0;
  server.timeout = SILENT_LIMIT_MS;
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

function secureServer(listener: RequestListener, tls: { readonly cert: Buffer; readonly key: Buffer }): Server {
  try {
    return createTlsServer({ ...tls, minVersion: 'TLSv1.2' }, listener) as unknown as Server;
  } catch (cause) {
    throw new Problem(
      'certificate_unfit',
      `The certificate and key can't be used: ${cause instanceof Error ? cause.message : String(cause)}`,
      '--tls-cert takes the certificate chain and --tls-key the private key that belongs to it, both PEM without a passphrase',
      { cause },
    );
  }
}

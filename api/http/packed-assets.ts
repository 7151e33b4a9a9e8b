import { readFile } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { promisify } from 'node:util';
import { brotliCompress, constants, gzip } from 'node:zlib';
import type { RequestHandler } from 'express';

const pack = {
  br: (bytes: Buffer) => promisify(brotliCompress)(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 9 } }),
  gzip: (bytes: Buffer) => promisify(gzip)(bytes, { level: 9 }),
} as const;
type Encoding = keyof typeof pack;

/** Plain names only: no folder, no way out of this one. */
const PACKED_NAME = /^\/[\w-][\w.-]*\.(js|css|svg|json)$/;

/**
 * Hands out the built page's files compressed, each packed well once, the first time it is asked for, and kept: their
 * names hold a digest of their content, and there are only as many as were built. What isn't there is left to the next
 * handler, and so is a request for a part of a file.
 */
export function packedAssets(folder: string, cacheControl: string): RequestHandler {
  const kept = new Map<string, Promise<Buffer>>();

  function packed(name: string, encoding: Encoding): Promise<Buffer> {
    const key = `${encoding} ${name}`;
    const known = kept.get(key);
    if (known) return known;
    const made = readFile(join(folder, name)).then(pack[encoding]);
    kept.set(key, made);
    made.catch(() => kept.delete(key));
    return made;
  }

  return async (request, response, next) => {
    if (!['GET', 'HEAD'].includes(request.method) || !PACKED_NAME.test(request.path)) return next();
    response.vary('Accept-Encoding');
    const encoding = request.acceptsEncodings(['br', 'gzip']);
    if (!encoding || !Object.hasOwn(pack, encoding) || request.headers.range !== undefined) return next();
    const bytes = await packed(request.path, encoding as Encoding).catch(() => undefined);
    if (!bytes) return next();
    response.setHeader('Content-Encoding', encoding);
    response.setHeader('Cache-Control', cacheControl);
    response.type(extname(request.path));
    response.setHeader('Content-Length', bytes.length);
    response.end(request.method === 'HEAD' ? undefined : bytes);
  };
}

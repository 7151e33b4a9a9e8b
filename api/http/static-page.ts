import { existsSync } from 'node:fs';
import { join } from 'node:path';
import express, { type RequestHandler, Router } from 'express';
import { Problem } from '../../collector/model/problem.ts';
import { packedAssets } from './packed-assets.ts';

/** Names of built assets hold a digest of their content, so they may be kept for good. */
const ASSET_AGE_S = 365 * 24 * 3600;

/** Hands out the built page: its files, and `index.html` for every address that the page itself resolves. */
export function staticPage(folder: string | undefined): RequestHandler {
  const index = folder === undefined ? undefined : join(folder, 'index.html');
  if (folder === undefined || index === undefined || !existsSync(index))
    return (request) => {
      throw new Problem(
        'page_not_built',
        `The page is missing, so ${JSON.stringify(request.path.slice(0, 100))} can't be shown; the API works`,
        'Run npm run build, then start again',
      );
    };
  const router = Router();
  const assets = join(folder, 'assets');
  router.use('/assets', packedAssets(assets, `public, max-age=${ASSET_AGE_S}, immutable`));
  router.use(
    '/assets',
    express.static(assets, {
      index: false,
      immutable: true,
      maxAge: ASSET_AGE_S * 1000,
      redirect: false,
    }),
  );
  router.use(
    express.static(folder, {
      index: false,
      redirect: false,
      setHeaders: (response) => response.setHeader('Cache-Control', 'no-cache'),
    }),
  );
  router.get('/{*path}', (request, response) => {
    // An address with a file's ending that isn't there is a missing file, not a view of the page.
    if (/\.[a-z0-9]{1,8}$/i.test(request.path) || request.path.startsWith('/assets/')) throw missing(request.path);
    response.setHeader('Cache-Control', 'no-cache');
    response.sendFile(index);
  });
  router.use((request) => {
    throw missing(request.path);
  });
  return router;
}

function missing(path: string): Problem {
  return new Problem('unknown_file', `There is no ${JSON.stringify(path.slice(0, 200))}`, 'Begin at /');
}

import type { Logger } from '../../collector/model/logger.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { Site } from '../../collector/model/site.ts';
import type { Settings } from '../../collector/store/port.ts';

/** The site of an address, hidden ones too. Throws Problem `unknown_site`. */
export async function knownSite(store: Pick<Settings, 'site'>, id: string): Promise<Site> {
  const site = await store.site(id);
  if (!site) throw new Problem('unknown_site', `There is no site "${id}"`, 'GET /api/sites lists those there are');
  return site;
}

/** The logger of an address, hidden ones too. Throws Problem `unknown_logger`. */
export async function knownLogger(store: Pick<Settings, 'logger'>, id: string): Promise<Logger> {
  const logger = await store.logger(id);
  if (!logger)
    throw new Problem('unknown_logger', `There is no logger "${id}"`, 'GET /api/loggers lists those there are');
  return logger;
}

/** A fault in one place of a request that no schema can see, for example a site that doesn't exist. */
export function wrongPlace(place: string, message: string): Problem {
  return new Problem(
    'invalid_request',
    `${place}: ${message}`,
    'Correct it and send again; /api/openapi.json describes every request',
    { details: { errors: [{ place, message }] } },
  );
}

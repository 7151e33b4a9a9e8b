import type { LoggerResource } from '../../api/contract/payloads.ts';
import { addressOf, type SpanChoice } from '../view-state.ts';
import { el } from './element.ts';

/** Where several loggers stand at a site: the same span as each of them saw it. Nothing for a single one. */
export function loggerLinks(
  siteId: string,
  loggers: readonly LoggerResource[],
  chosen: string | undefined,
  span: SpanChoice | undefined,
): HTMLElement | undefined {
  if (loggers.length < 2) return undefined;
  return el(
    'nav',
    { class: 'chapters', 'aria-label': 'Loggers of this site' },
    ...loggers.map((logger) =>
      el(
        'a',
        {
          href: addressOf({ name: 'chart', siteId, loggerId: logger.id, span }),
          'aria-current': logger.id === chosen ? 'page' : undefined,
        },
        logger.id,
      ),
    ),
  );
}

import { calibrationHandlers } from './calibration-handlers.ts';
import { findingsHandlers } from './findings-handlers.ts';
import type { Handlers } from './handlers.ts';
import { importHandlers } from './import-handlers.ts';
import { loggerHandlers } from './logger-handlers.ts';
import { mappingHandlers } from './mapping-handlers.ts';
import { programHandlers } from './program-handlers.ts';
import { recordHandlers } from './record-handlers.ts';
import { seriesHandlers } from './series-handlers.ts';
import { sessionHandlers } from './session-handlers.ts';
import { siteHandlers } from './site-handlers.ts';

/** Everything that handlers need, each group taking its own share. */
export type HandlerNeeds = Parameters<typeof calibrationHandlers>[0] &
  Parameters<typeof findingsHandlers>[0] &
  Omit<Parameters<typeof importHandlers>[0], 'changed'> &
  Omit<Parameters<typeof loggerHandlers>[0], 'changed'> &
  Parameters<typeof mappingHandlers>[0] &
  Parameters<typeof programHandlers>[0] &
  Parameters<typeof recordHandlers>[0] &
  Parameters<typeof seriesHandlers>[0] &
  Parameters<typeof sessionHandlers>[0] &
  Omit<Parameters<typeof siteHandlers>[0], 'changed'> & {
    /** Told what changed, so that settings are read anew and open pages follow. */
    changed: (what: 'site' | 'logger' | 'samples', id: string) => void;
  };

/** One handler for every route of the table. */
export function routeHandlers(needs: HandlerNeeds): Handlers {
  return {
    ...programHandlers(needs),
    ...recordHandlers(needs),
    ...sessionHandlers(needs),
    ...siteHandlers(needs),
    ...loggerHandlers(needs),
    ...mappingHandlers(needs),
    ...calibrationHandlers(needs),
    ...seriesHandlers(needs),
    ...findingsHandlers(needs),
    ...importHandlers(needs),
  };
}

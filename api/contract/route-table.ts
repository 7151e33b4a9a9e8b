/*
 * Every route of the program as plain data: safe in the browser, imports nothing. The server registers its handlers by
 * these ids, the page calls by them, and the API description is made from them and from payloads.ts.
 * Parameters of a path stand in braces.
 */
export const ROUTES = {
  health: { method: 'GET', path: '/api/health', summary: 'Whether samples can be taken and shown, or what is wrong' },
  metrics: { method: 'GET', path: '/metrics', summary: 'Counters and gauges as Prometheus text exposition' },
  openapi: { method: 'GET', path: '/api/openapi.json', summary: 'This description' },
  about: { method: 'GET', path: '/api/about', summary: 'Version, broker to publish to, size of the data' },
  backup: {
    method: 'GET',
    path: '/api/backup',
    summary: 'The whole record as one file, while samples arrive; for the local command or whoever is signed in',
  },
  recordCheck: { method: 'GET', path: '/api/check', summary: 'What the last full check of the record found' },
  startRecordCheck: {
    method: 'POST',
    path: '/api/check',
    summary: 'Recompute every seal and summary of the record; answers at once, GET tells how far it is',
  },

  getSession: { method: 'GET', path: '/api/session', summary: 'Whether one is signed in, and has to be' },
  signIn: { method: 'POST', path: '/api/session', summary: "Sign in with the owner's password" },
  signOut: { method: 'DELETE', path: '/api/session', summary: 'End this session' },

  listSites: { method: 'GET', path: '/api/sites', summary: 'All sites that are not hidden' },
  createSite: { method: 'POST', path: '/api/sites', summary: 'Add a site' },
  getSite: { method: 'GET', path: '/api/sites/{id}', summary: 'One site' },
  updateSite: { method: 'PATCH', path: '/api/sites/{id}', summary: 'Change name, time zone or thresholds; show again' },
  deleteSite: { method: 'DELETE', path: '/api/sites/{id}', summary: 'Hide for 30 days, or erase at once' },
  siteFindings: {
    method: 'GET',
    path: '/api/sites/{id}/findings',
    summary: "What the site's record says; other loggers' findings under `others`",
  },
  letter: { method: 'GET', path: '/api/sites/{id}/letter', summary: 'The letter for the supplier' },

  listLoggers: { method: 'GET', path: '/api/loggers', summary: 'All loggers that are not hidden' },
  createLogger: { method: 'POST', path: '/api/loggers', summary: 'Add a logger; its key is shown this once' },
  getLogger: { method: 'GET', path: '/api/loggers/{id}', summary: 'One logger with its state in words' },
  updateLogger: {
    method: 'PATCH',
    path: '/api/loggers/{id}',
    summary: 'Move it or change how its channels are read, from a moment on',
  },
  deleteLogger: { method: 'DELETE', path: '/api/loggers/{id}', summary: 'Hide for 30 days, or erase with its samples' },
  renewLoggerKey: {
    method: 'POST',
    path: '/api/loggers/{id}/key',
    summary: 'A new key, shown this once; the old one opens no further connection',
  },
  tryMapping: {
    method: 'POST',
    path: '/api/loggers/{id}/mapping/trial',
    summary: "What would be read from sample messages of the logger's device by a mapping; stores nothing",
  },
  loggerRefusals: { method: 'GET', path: '/api/loggers/{id}/refusals', summary: 'The last 100 refused entries' },
  unknownRefusals: {
    method: 'GET',
    path: '/api/refusals',
    summary: 'The last 100 refused messages that name no known logger',
  },
  listCalibrations: { method: 'GET', path: '/api/loggers/{id}/calibrations', summary: 'Comparisons with a gauge' },
  addCalibration: {
    method: 'POST',
    path: '/api/loggers/{id}/calibrations',
    summary: 'Compare with a gauge at one pressure or two; no stored sample changes',
  },
  series: {
    method: 'GET',
    path: '/api/loggers/{id}/series',
    summary: 'Extremes and means as columns, JSON or typed arrays, or (text/csv, without `points`) every sample',
  },
  loggerFindings: { method: 'GET', path: '/api/loggers/{id}/findings', summary: "What this logger's record says" },
  importSamples: { method: 'POST', path: '/api/loggers/{id}/import', summary: 'Import a CSV file, plain or gzip' },
  previewImport: {
    method: 'POST',
    path: '/api/loggers/{id}/import/preview',
    summary: 'How a CSV file would be read, from its beginning (at most 256 kB); stores nothing',
  },

  live: {
    method: 'GET',
    path: '/api/live',
    summary:
      'WebSocket: new samples, states, progress and what can be said by now, as JSON frames. Send {"type":"follow","site":"…"} (or "logger") to be told of its findings as they grow',
  },
} as const satisfies Record<string, RouteEntry>;

export interface RouteEntry {
  readonly method: 'GET' | 'POST' | 'PATCH' | 'DELETE';
  readonly path: string;
  readonly summary: string;
}

export type RouteId = keyof typeof ROUTES;

export const ROUTE_IDS = Object.keys(ROUTES) as RouteId[];

/** The address of a route: `{name}` replaced by the escaped parameter. Throws where one is missing. */
export function routePath(id: RouteId, params: Readonly<Record<string, string>> = {}): string {
  return ROUTES[id].path.replace(/\{(\w+)\}/g, (_, name: string) => {
    const value = params[name];
    if (value === undefined) throw new Error(`${ROUTES[id].path} needs "${name}"`);
    return encodeURIComponent(value);
  });
}

/*
 * Where the reader is, as one plain value, and its address. Every page has an address of its own; everything that a
 * reader would send to somebody else (the span, the finding that is open) stands in it.
 */

export type Page =
  | { readonly name: 'sites' }
  | { readonly name: 'site'; readonly siteId: string }
  | {
      readonly name: 'chart';
      readonly siteId: string;
      /** Undefined: the logger at the incoming main, or the only one. */
      readonly loggerId?: string | undefined;
      readonly span?: SpanChoice | undefined;
      /** Key of the finding that is open beneath the chart. */
      readonly finding?: string | undefined;
    }
  | { readonly name: 'letter'; readonly siteId: string; readonly span?: SpanChoice | undefined }
  | { readonly name: 'site-loggers'; readonly siteId: string }
  | { readonly name: 'loggers' }
  | { readonly name: 'new-logger'; readonly siteId?: string | undefined }
  | { readonly name: 'logger'; readonly loggerId: string }
  | { readonly name: 'sign-in'; readonly next: string }
  | { readonly name: 'unknown'; readonly path: string };

export interface Span {
  readonly fromMs: number;
  readonly toMs: number;
}

/** A fixed span, or one that ends now and moves along. */
export type SpanChoice = Span | { readonly lastMs: number };

/** A chart shows nothing shorter: ten samples at 1 Hz. */
export const SHORTEST_SPAN_MS = 10_000;
/** Findings are served for at most 400 days, and a chart needs no more. */
export const LONGEST_SPAN_MS = 400 * 86_400_000;

export function isMoving(choice: SpanChoice): choice is { readonly lastMs: number } {
  return 'lastMs' in choice;
}

export function resolveSpan(choice: SpanChoice, nowMs: number): Span {
  return isMoving(choice) ? { fromMs: nowMs - choice.lastMs, toMs: nowMs } : choice;
}

/** Grows or shrinks a span about a point in it, within the shortest and longest. `factor` under 1 zooms in. */
export function zoomSpan(span: Span, factor: number, aboutMs = (span.fromMs + span.toMs) / 2): Span {
  const length = span.toMs - span.fromMs;
  const wanted = Math.min(LONGEST_SPAN_MS, Math.max(SHORTEST_SPAN_MS, length * factor));
  const share = length > 0 ? (aboutMs - span.fromMs) / length : 0.5;
  const fromMs = Math.round(aboutMs - wanted * share);
  return { fromMs, toMs: fromMs + Math.round(wanted) };
}

/** Moves a span by a share of its own length. */
export function panSpan(span: Span, share: number): Span {
  const shift = Math.round((span.toMs - span.fromMs) * share);
  return { fromMs: span.fromMs + shift, toMs: span.toMs + shift };
}

/** Keeps at least half of the span over what the log holds, so that nobody gets lost in emptiness. */
export function keepNear(span: Span, log: Span): Span {
  const length = span.toMs - span.fromMs;
  const least = log.fromMs - length / 2;
  const most = log.toMs - length / 2;
  const fromMs = Math.round(Math.min(Math.max(span.fromMs, least), Math.max(least, most)));
  return { fromMs, toMs: fromMs + length };
}

/** What a key does to a span; undefined where it does nothing. */
export function spanForKey(key: string, span: Span): Span | undefined {
  switch (key) {
    case 'ArrowLeft':
      return panSpan(span, -0.2);
    case 'ArrowRight':
      return panSpan(span, 0.2);
    case 'PageUp':
      return panSpan(span, -1);
    case 'PageDown':
      return panSpan(span, 1);
    case '+':
    case '=':
      return zoomSpan(span, 0.5);
    case '-':
    case '\u2212':
      return zoomSpan(span, 2);
    default:
      return undefined;
  }
}

const ID = '([^/]+)';
const PATHS: readonly [RegExp, (match: string[], query: URLSearchParams) => Page][] = [
  [/^\/$/, () => ({ name: 'sites' })],
  [new RegExp(`^/sites/${ID}$`), ([siteId]) => ({ name: 'site', siteId: siteId! })],
  [
    new RegExp(`^/sites/${ID}/chart$`),
    ([siteId], query) => ({
      name: 'chart',
      siteId: siteId!,
      loggerId: query.get('logger') ?? undefined,
      span: readSpan(query),
      finding: query.get('finding') ?? undefined,
    }),
  ],
  [
    new RegExp(`^/sites/${ID}/letter$`),
    ([siteId], query) => ({ name: 'letter', siteId: siteId!, span: readSpan(query) }),
  ],
  [new RegExp(`^/sites/${ID}/loggers$`), ([siteId]) => ({ name: 'site-loggers', siteId: siteId! })],
  [/^\/loggers$/, () => ({ name: 'loggers' })],
  [/^\/loggers\/new$/, (_, query) => ({ name: 'new-logger', siteId: query.get('site') ?? undefined })],
  [new RegExp(`^/loggers/${ID}$`), ([loggerId]) => ({ name: 'logger', loggerId: loggerId! })],
  [/^\/sign-in$/, (_, query) => ({ name: 'sign-in', next: ownPath(query.get('next')) })],
];

/** Reads an address (path and query, e.g. of `location`). What isn't known becomes the page that says so. */
export function readAddress(path: string, search: string): Page {
  const query = new URLSearchParams(search);
  for (const [pattern, make] of PATHS) {
    const match = pattern.exec(path);
    if (!match) continue;
    try {
      return make(match.slice(1).map(decodeURIComponent), query);
    } catch {
      break;
    }
  }
  return { name: 'unknown', path };
}

/** The address of a page: what its links point to. `readAddress` reads it back to an equal page. */
export function addressOf(page: Page): string {
  switch (page.name) {
    case 'sites':
      return '/';
    case 'site':
      return `/sites/${encodeURIComponent(page.siteId)}`;
    case 'chart':
      return withQuery(`/sites/${encodeURIComponent(page.siteId)}/chart`, [
        ['logger', page.loggerId],
        ...spanQuery(page.span),
        ['finding', page.finding],
      ]);
    case 'letter':
      return withQuery(`/sites/${encodeURIComponent(page.siteId)}/letter`, spanQuery(page.span));
    case 'site-loggers':
      return `/sites/${encodeURIComponent(page.siteId)}/loggers`;
    case 'loggers':
      return '/loggers';
    case 'new-logger':
      return withQuery('/loggers/new', [['site', page.siteId]]);
    case 'logger':
      return `/loggers/${encodeURIComponent(page.loggerId)}`;
    case 'sign-in':
      return withQuery('/sign-in', [['next', page.next === '/' ? undefined : page.next]]);
    case 'unknown':
      return page.path;
    default:
      return page satisfies never;
  }
}

function readSpan(query: URLSearchParams): SpanChoice | undefined {
  const last = Number(query.get('last') ?? Number.NaN);
  if (last > 0) return { lastMs: Math.min(LONGEST_SPAN_MS, Math.max(SHORTEST_SPAN_MS, Math.round(last * 1000))) };
  const fromMs = readTime(query.get('from'));
  const toMs = readTime(query.get('to'));
  if (fromMs === undefined || toMs === undefined || toMs - fromMs < 1) return undefined;
  return toMs - fromMs > LONGEST_SPAN_MS ? { fromMs: toMs - LONGEST_SPAN_MS, toMs } : { fromMs, toMs };
}

function readTime(text: string | null): number | undefined {
  if (text === null || !/^\d{4}-\d\d-\d\dT/.test(text)) return undefined;
  const atMs = Date.parse(text);
  return Number.isFinite(atMs) ? atMs : undefined;
}

function spanQuery(span: SpanChoice | undefined): [string, string | undefined][] {
  if (!span) return [];
  if (isMoving(span)) return [['last', String(span.lastMs / 1000)]];
  return [
    ['from', timeText(span.fromMs)],
    ['to', timeText(span.toMs)],
  ];
}

/** RFC 3339 in UTC, without a fraction where there is none. */
export function timeText(atMs: number): string {
  return new Date(atMs).toISOString().replace('.000Z', 'Z');
}

function withQuery(path: string, entries: readonly (readonly [string, string | undefined])[]): string {
  const query = entries
    .filter((entry): entry is readonly [string, string] => entry[1] !== undefined)
    // Colons are allowed in a query (RFC 3986 section 3.4) and keep times readable.
    .map(([key, value]) => `${key}=${encodeURIComponent(value).replaceAll('%3A', ':')}`)
    .join('&');
  return query ? `${path}?${query}` : path;
}

/** After signing in only a page of our own may follow. */
function ownPath(next: string | null): string {
  return next && /^\/(?![/\\])/.test(next) ? next : '/';
}

import { COLUMNS_TYPE, readColumnBytes } from '../../api/contract/column-bytes.ts';
import type { BodyOf, ParamsOf, ProblemBody, QueryOf, ResponseOf } from '../../api/contract/payloads.ts';
import { ROUTES, type RouteId, routePath } from '../../api/contract/route-table.ts';

/** What went wrong, in the server's words or in ours where the server can't be reached. */
export class ApiError extends Error {
  readonly status: number;
  readonly code: string;
  readonly hint: string;
  readonly errors: readonly { readonly place: string; readonly message: string }[];
  readonly body: Readonly<Record<string, unknown>>;

  constructor(status: number, body: Partial<ProblemBody> & Record<string, unknown>) {
    super(body.detail ?? body.title ?? `The server answered ${status} without saying why.`);
    this.name = 'ApiError';
    this.status = status;
    this.code = body.code ?? 'unknown';
    this.hint = body.hint ?? '';
    this.errors = body.errors ?? [];
    this.body = body;
  }
}

/** Answers to what changes something are quick; a computer that sleeps or a network that is gone never answers. */
const SAVING_LIMIT_MS = 30_000;

let signInNeeded = (_changes: boolean): Promise<boolean> => Promise.resolve(false);
let ownChange = () => {};

/** What to do after anything was changed through this page: one listener, the kept findings. */
export function onOwnChange(listener: () => void): void {
  ownChange = listener;
}

/**
 * What to do where the server asks for a sign-in: one listener, the page's start file. It is told whether something was
 * to be changed, or only read. True: ask the server again.
 */
export function onSignInNeeded(listener: (changes: boolean) => Promise<boolean>): void {
  signInNeeded = listener;
}

interface CallOptions<Id extends RouteId> {
  readonly params?: ParamsOf<Id> | undefined;
  readonly query?: QueryOf<Id> | undefined;
  readonly body?: BodyOf<Id> | undefined;
  readonly signal?: AbortSignal | undefined;
}

/** The address of a route with its query, for links and calls alike. Missing values are left out. */
export function routeAddress(
  id: RouteId,
  params: Readonly<Record<string, unknown>> = {},
  query: Readonly<Record<string, unknown>> = {},
): string {
  const path = routePath(id, params as Record<string, string>);
  const given = Object.entries(query).filter(([, value]) => value !== undefined && value !== '');
  const text = new URLSearchParams(given.map(([key, value]) => [key, String(value)])).toString();
  return text ? `${path}?${text}` : path;
}

/**
 * Calls a route of the table; one function for all of them. Rejects with an ApiError (`unreachable` where there is no
 * answer), or with the AbortError of the signal.
 */
export async function call<Id extends RouteId>(id: Id, options: CallOptions<Id> = {}): Promise<ResponseOf<Id>> {
  const { method } = ROUTES[id];
  const init: RequestInit = { method, headers: { Accept: 'application/json' } };
  if (options.signal) init.signal = options.signal;
  if (options.body !== undefined || method === 'POST') {
    init.headers = { ...init.headers, 'Content-Type': 'application/json' };
    init.body = JSON.stringify(options.body ?? {});
  }
  const response = await reach(routeAddress(id, options.params ?? {}, options.query ?? {}), init);
  if (method !== 'GET') ownChange();
  if (response.status === 204) return undefined as ResponseOf<Id>;
  return (await response.json()) as ResponseOf<Id>;
}

/** A chart's columns: asked for as bytes, which need no parsing; JSON where the server (or what stands between) has none. */
export async function seriesColumns(
  loggerId: string,
  query: QueryOf<'series'>,
  signal: AbortSignal,
): Promise<ResponseOf<'series'>> {
  const response = await reach(routeAddress('series', { id: loggerId }, query), {
    headers: { Accept: `${COLUMNS_TYPE}, application/json;q=0.9` },
    signal,
  });
  if (response.headers.get('Content-Type') !== COLUMNS_TYPE) return (await response.json()) as ResponseOf<'series'>;
  try {
    return readColumnBytes(await response.arrayBuffer());
  } catch (error) {
    // Bytes of a form that this page doesn't know: after an update the page may be older than the server.
    if (error instanceof RangeError || error instanceof SyntaxError)
      return call('series', { params: { id: loggerId }, query, signal });
    throw error;
  }
}

/** The beginning of a file as the server would read it; stores nothing. */
export async function previewImport(
  loggerId: string,
  query: QueryOf<'previewImport'>,
  beginning: Blob,
  gzip: boolean,
): Promise<ResponseOf<'previewImport'>> {
  const response = await reach(routeAddress('previewImport', { id: loggerId }, query), {
    method: 'POST',
    headers: { 'Content-Type': gzip ? 'application/gzip' : 'text/csv' },
    body: beginning,
  });
  return (await response.json()) as ResponseOf<'previewImport'>;
}

/** Every sample of a span as CSV, streamed into a file that the browser may keep on disk. */
export async function samplesCsv(
  loggerId: string,
  query: QueryOf<'series'>,
  onBytes: (received: number) => void,
): Promise<Blob> {
  const response = await reach(routeAddress('series', { id: loggerId }, query), { headers: { Accept: 'text/csv' } });
  const reader = response.body!.getReader();
  const chunks: BlobPart[] = [];
  let received = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return new Blob(chunks, { type: 'text/csv' });
    chunks.push(value);
    received += value.byteLength;
    onBytes(received);
  }
}

/** A document (the letter) as a file, with the server's own problem where it can't be made. */
export async function fetchFile(address: string): Promise<Blob> {
  return (await reach(address, {})).blob();
}

async function reach(address: string, init: RequestInit): Promise<Response> {
  const changes = init.method !== undefined && init.method !== 'GET';
  let response: Response;
  try {
    // Reading may take as long as it takes; saving that is never answered must not leave its form waiting for good.
    const signal = init.signal ?? (changes ? AbortSignal.timeout(SAVING_LIMIT_MS) : null);
    response = await fetch(address, { ...init, signal, credentials: 'same-origin', redirect: 'error' });
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    throw new ApiError(0, {
      code: 'unreachable',
      detail: changes
        ? 'The program can’t be reached from this page, so it isn’t known whether it took this.'
        : 'The program can’t be reached from this page.',
      hint: changes
        ? 'What you typed stays. See whether the program still runs and this device is on its network, then try again.'
        : 'See whether it still runs and this device is on its network, then try again.',
    });
  }
  if (response.ok) return response;
  if (response.status === 401 && address !== ROUTES.signIn.path && (await signInNeeded(changes)))
    return reach(address, init);
  throw new ApiError(response.status, await problemBody(response));
}

async function problemBody(response: Response): Promise<Partial<ProblemBody> & Record<string, unknown>> {
  try {
    return (await response.json()) as Partial<ProblemBody> & Record<string, unknown>;
  } catch {
    return {};
  }
}

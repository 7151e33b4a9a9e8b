import express, { type Express, type RequestHandler, type Response } from 'express';
import helmet from 'helmet';
import { Problem } from '../../collector/model/problem.ts';
import type { Log } from '../../collector/ports.ts';
import type { OwnHosts } from '../access/own-hosts.ts';
import type { OwnerAccess } from '../access/owner-access.ts';
import { openapiDocument } from '../contract/openapi.ts';
import { PAYLOADS } from '../contract/payloads.ts';
import { JSON_BYTES_LIMIT, type RoutePayload } from '../contract/route-payload.ts';
import { ROUTE_IDS, ROUTES, type RouteId } from '../contract/route-table.ts';
import { compressed } from './compressed.ts';
import { ANSWERED, type Asked, type Handlers, JsonBytes, TypedBytes } from './handlers.ts';
import type { Metrics } from './metrics.ts';
import { problemHandler, requestProblem } from './problem-response.ts';
import { guardChange, guardHost, guardSession } from './request-guard.ts';
import { staticPage } from './static-page.ts';

/** A JSON body is at most some kilobytes: one that drips for longer only holds a connection. */
const JSON_WITHIN_MS = 20_000;

export interface AppParts {
  readonly handlers: Handlers;
  readonly hosts: OwnHosts;
  readonly access: OwnerAccess;
  readonly metrics: Metrics;
  readonly log: Log;
  readonly tls: boolean;
  readonly version: string;
  /** The built page; undefined: none. */
  readonly pageFolder: string | undefined;
}

/** The whole HTTP side as one request listener; needs no port. */
export function createApp(parts: AppParts): Express {
  const app = express();
  app.disable('x-powered-by');
  app.set('query parser', 'simple');
  app.set('case sensitive routing', true);
  app.set('trust proxy', false);
  app.use(securityHeaders(parts.tls));
  app.use(guardHost(parts.hosts));
  app.use(compressed());

  const description = new JsonBytes(Buffer.from(JSON.stringify(openapiDocument(parts.version))));
  const handlers: Record<string, (asked: Asked<never>) => unknown> = {
    ...parts.handlers,
    openapi: () => description,
    live: () => {
      throw new Problem('upgrade_needed', 'This address speaks WebSocket only', 'Open it as ws:// or wss://');
    },
  };
  for (const id of ROUTE_IDS) {
    const { method, path } = ROUTES[id];
    app[method.toLowerCase() as 'get' | 'post' | 'patch' | 'delete'](
      path.replace(/\{(\w+)\}/g, ':$1'),
      parts.metrics.countRequest(id),
      guardSession(parts.access, parts.tls, id),
      guardChange(parts.hosts, id),
      readBody(id),
      answer(id, handlers[id]!),
    );
  }
  app.use(['/api', '/metrics'], refuseUnknown());
  app.use(staticPage(parts.pageFolder));
  app.use(problemHandler(parts.log));
  return app;
}

/** Nothing from elsewhere, nothing inline. The page sets styles through the object model, which the policy allows. */
function securityHeaders(tls: boolean): RequestHandler {
  return helmet({
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'self'"],
        objectSrc: ["'none'"],
        baseUri: ["'none'"],
        formAction: ["'self'"],
        frameAncestors: ["'self'"],
      },
    },
    // On a machine of the house the certificate may be one's own or missing: the browser must not be told for a year.
    strictTransportSecurity: false,
    // Browsers heed this one over TLS and on loopback only, and complain about it elsewhere.
    crossOriginOpenerPolicy: tls ? { policy: 'same-origin' } : false,
    referrerPolicy: { policy: 'no-referrer' },
  });
}

function readBody(id: RouteId): RequestHandler {
  const payload: RoutePayload = PAYLOADS[id];
  if (!payload.body || payload.bodyTypes) return (_request, _response, next) => next();
  const parse = express.json({ limit: JSON_BYTES_LIMIT, strict: false, inflate: false });
  return (request, response, next) => {
    let over = false;
    const limit = setTimeout(() => {
      over = true;
      next(
        new Problem(
          'request_too_slow',
          `The body had not come in full after ${JSON_WITHIN_MS / 1000} s`,
          'Send it again in one piece',
        ),
      );
    }, JSON_WITHIN_MS);
    parse(request, response, (error) => {
      clearTimeout(limit);
      if (!over) next(error);
    });
  };
}

function answer(id: RouteId, handler: (asked: Asked<never>) => unknown): RequestHandler {
  const payload: RoutePayload = PAYLOADS[id];
  return async (request, response) => {
    const check = (place: 'params' | 'query' | 'body') => {
      const schema = payload[place];
      if (schema === undefined || (place === 'body' && payload.bodyTypes)) return undefined;
      const result = schema.safeParse(request[place]);
      if (!result.success) throw requestProblem(place, result.error, request[place]);
      return result.data;
    };
    const asked = { params: check('params'), query: check('query'), body: check('body'), request, response };
    const answered = await handler(asked as unknown as Asked<never>);
    if (answered !== ANSWERED) send(response, payload.status, answered);
  };
}

function send(response: Response, status: number, body: unknown): void {
  // What the record says may change with the next sample, and must not outlive a session in a cache.
  response.setHeader('Cache-Control', 'no-store');
  response.status(status);
  if (body === undefined) response.end();
  else if (body instanceof JsonBytes) response.type('application/json').end(body.bytes);
  else if (body instanceof TypedBytes) response.type(body.type).end(body.bytes);
  else response.type('application/json').end(JSON.stringify(body));
}

/** What the table doesn't hold: 405 where the address exists with another method, else 404. */
function refuseUnknown(): RequestHandler {
  const known = ROUTE_IDS.map((id) => ({
    method: ROUTES[id].method,
    pattern: new RegExp(`^${ROUTES[id].path.replaceAll('.', '\\.').replace(/\{\w+\}/g, '[^/]+')}$`),
  }));
  return (request, response) => {
    const path = `${request.baseUrl}${request.path === '/' ? '' : request.path}`;
    const methods = known.filter((route) => route.pattern.test(path)).map((route) => route.method);
    if (methods.length === 0)
      throw new Problem(
        'unknown_route',
        `There is nothing at ${JSON.stringify(path.slice(0, 200))}`,
        '/api/openapi.json lists every address',
      );
    response.setHeader('Allow', methods.join(', '));
    throw new Problem(
      'method_not_allowed',
      `${request.method} is not answered at ${JSON.stringify(path.slice(0, 200))}`,
      `Use ${methods.join(' or ')}`,
    );
  };
}

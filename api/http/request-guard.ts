import type { RequestHandler } from 'express';
import { Problem } from '../../collector/model/problem.ts';
import type { OwnHosts } from '../access/own-hosts.ts';
import type { OwnerAccess } from '../access/owner-access.ts';
import { bearerTokenOf, sessionTokenOf } from '../access/session-cookie.ts';
import { PAYLOADS } from '../contract/payloads.ts';
import type { RoutePayload } from '../contract/route-payload.ts';
import { ROUTES, type RouteId } from '../contract/route-table.ts';

/** What may change state arrives as one of these: none can be sent by a foreign page's form. */
const CHANGING_TYPES = ['application/json', 'text/csv', 'application/gzip'];

/** Answered without a session: what the sign-in itself needs, and what an outside watchdog asks. */
const OPEN_ROUTES: ReadonlySet<RouteId> = new Set(['health', 'getSession', 'signIn', 'signOut']);

/** 421 unless the Host header names this server, even on loopback: a page elsewhere must not reach it. */
export function guardHost(hosts: OwnHosts): RequestHandler {
  return (request, _response, next) => {
    if (!hosts.isOurs(request.headers.host)) throw misdirected(request.headers.host);
    next();
  };
}

export function misdirected(host: string | undefined): Problem {
  return new Problem(
    'misdirected_request',
    `The request names the host ${JSON.stringify((host ?? '').slice(0, 100))}, which is not this server`,
    'Use the address that the program printed at its start; --http-host sets another',
  );
}

export function foreignOrigin(): Problem {
  return new Problem(
    'foreign_origin',
    'The request was sent by a page of another origin',
    "Only this server's own page, or a program that sends no Origin, may do this",
  );
}

/** Origin and content type of what changes state. */
export function guardChange(hosts: OwnHosts, id: RouteId): RequestHandler {
  const payload: RoutePayload = PAYLOADS[id];
  const types = payload.bodyTypes ?? (payload.body ? ['application/json'] : CHANGING_TYPES);
  return (request, _response, next) => {
    if (ROUTES[id].method === 'GET') return next();
    const { origin, host } = request.headers;
    if (origin !== undefined && !hosts.isOwnOrigin(origin, host ?? '')) throw foreignOrigin();
    const type = request.headers['content-type']?.split(';')[0]?.trim().toLowerCase();
    const hasBody = request.headers['transfer-encoding'] !== undefined || Number(request.headers['content-length']) > 0;
    if (type === undefined ? hasBody || payload.body !== undefined : !types.includes(type))
      throw new Problem(
        'unsupported_content_type',
        type === undefined
          ? 'The body has no content type'
          : `A body of type ${JSON.stringify(type.slice(0, 100))} is not taken here`,
        `Send it as ${types.join(' or ')}`,
      );
    next();
  };
}

/** 401 without a session or the local commands' token, where the server can be reached from elsewhere. */
export function guardSession(access: OwnerAccess, tls: boolean, id: RouteId): RequestHandler {
  return (request, _response, next) => {
    if (!OPEN_ROUTES.has(id) && !mayEnter(access, tls, request.headers)) throw signInNeeded();
    next();
  };
}

export function mayEnter(
  access: OwnerAccess,
  tls: boolean,
  headers: { readonly cookie?: string | undefined; readonly authorization?: string | undefined },
): boolean {
  if (!access.required) return true;
  return access.isSignedIn(sessionTokenOf(headers.cookie, tls), bearerTokenOf(headers.authorization));
}

export function signInNeeded(): Problem {
  return new Problem('sign_in_needed', 'Nobody is signed in', "Sign in with the owner's password, POST /api/session");
}

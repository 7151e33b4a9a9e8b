import type { Request, Response } from 'express';
import type { CheckedBodyOf, CheckedParamsOf, CheckedQueryOf, ResponseOf } from '../contract/payloads.ts';
import type { RouteId } from '../contract/route-table.ts';

/** What a handler is given: the checked parts of the request; the raw ones for streams and cookies. */
export interface Asked<Id extends RouteId> {
  readonly params: CheckedParamsOf<Id>;
  readonly query: CheckedQueryOf<Id>;
  readonly body: CheckedBodyOf<Id>;
  readonly request: Request;
  readonly response: Response;
}

/** A JSON text that is ready to be sent, made elsewhere so that nothing waits for it. */
export class JsonBytes {
  readonly bytes: Uint8Array;
  constructor(bytes: Uint8Array) {
    this.bytes = bytes;
  }
}

/** Any other bytes that are ready to be sent. */
export class TypedBytes {
  readonly type: string;
  readonly bytes: Uint8Array;
  constructor(type: string, bytes: Uint8Array) {
    this.type = type;
    this.bytes = bytes;
  }
}

/** The handler has answered by itself (files and streams). */
export const ANSWERED = { answered: true } as const;

export type Handler<Id extends RouteId> = (asked: Asked<Id>) => Promise<Answered<Id>> | Answered<Id>;

type Answered<Id extends RouteId> = ResponseOf<Id> | JsonBytes | TypedBytes | typeof ANSWERED;

/** One handler for every route of the table; the WebSocket's upgrade is answered in api/live. */
export type Handlers = { readonly [Id in Exclude<RouteId, 'live' | 'openapi'>]: Handler<Id> };

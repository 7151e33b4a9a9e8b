import { z } from 'zod';
import { channel, none, noQuery, time } from './payload-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* Health, what the program is, its record as a whole, and who is signed in. */

export const health = z.looseObject({
  status: z.string(),
  sealing: z.number().int(),
  http: z.string(),
  mqtt: z.string(),
  /** What an outside broker lost of late though it is well again, in words. */
  mqttNote: z.string().optional(),
  store: z.string(),
  /** `ok`, or that the disk runs full, in words; samples are still taken. */
  disk: z.string(),
  freeBytes: z.number().nullable(),
  daysLeft: z.number().nullable(),
  /** `ok`, or what the last full check of the record found. */
  record: z.string(),
  /** Share of the demo's history that is written; missing without a demo. */
  demoHistory: z.number().optional(),
});

/** How long the disk of the data folder lasts; null where it can't be told yet. */
const disk = z.object({
  state: z.enum(['ok', 'low']),
  /** In words where it is low. */
  message: z.string().optional(),
  freeBytes: z.number().nullable(),
  /** What all loggers together add. */
  bytesPerDay: z.number().nullable(),
  /** Days until it is full at that rate. */
  daysLeft: z.number().nullable(),
});

export const about = z.object({
  version: z.string(),
  demo: z.boolean(),
  nowMs: z.number(),
  startedMs: z.number(),
  broker: z.object({
    kind: z.enum(['embedded', 'outside']),
    host: z.string(),
    port: z.number().int(),
    tlsPort: z.number().int().optional(),
    state: z.string(),
    message: z.string().optional(),
    note: z.string().optional(),
  }),
  dataBytes: z.number(),
  disk,
  store: z.object({ state: z.enum(['ok', 'failing']), message: z.string().optional() }),
});

export const recordCheck = z.object({
  state: z.enum(['never', 'running', 'done', 'failed']),
  started: time.nullable(),
  ended: time.nullable(),
  /** Sealed hours looked at, of how many; while it runs. */
  done: z.number().int(),
  total: z.number().int(),
  /** What the last one that ended looked at. */
  hours: z.number().int(),
  samples: z.number().int(),
  faultCount: z.number().int(),
  /** The first 100. */
  faults: z.array(
    z.object({
      kind: z.enum([
        'file_damaged',
        'hour_unreadable',
        'seal_differs',
        'columns_differ',
        'piece_unreadable',
        'summary_differs',
        'count_differs',
      ]),
      logger: z.string().nullable(),
      channel: channel.nullable(),
      /** Start of the UTC hour; null where no single hour is meant. */
      hour: time.nullable(),
      seen: z.string(),
    }),
  ),
  /** Why it could not be done. */
  failure: z.string().nullable(),
});

export const session = z.object({
  /** Whether an owner's password is set. */
  accountExists: z.boolean(),
  signedIn: z.boolean(),
  /** True where this server asks for it and no one is signed in. */
  needsSignIn: z.boolean(),
});

export const PROGRAM_PAYLOADS = {
  health: {
    params: none,
    query: noQuery,
    body: undefined,
    response: health,
    status: 200,
    alsoStatus: { 503: 'Samples can’t be taken or shown; the answer says what is wrong' },
  },
  metrics: {
    params: none,
    query: noQuery,
    body: undefined,
    response: z.string(),
    responseTypes: ['text/plain'],
    status: 200,
  },
  openapi: { params: none, query: noQuery, body: undefined, response: z.looseObject({}), status: 200 },
  about: { params: none, query: noQuery, body: undefined, response: about, status: 200 },
  backup: {
    params: none,
    query: noQuery,
    body: undefined,
    response: z.string(),
    responseTypes: ['application/vnd.sqlite3'],
    status: 200,
  },
  recordCheck: { params: none, query: noQuery, body: undefined, response: recordCheck, status: 200 },
  startRecordCheck: { params: none, query: noQuery, body: undefined, response: recordCheck, status: 200 },
  getSession: { params: none, query: noQuery, body: undefined, response: session, status: 200 },
  signIn: {
    params: none,
    query: noQuery,
    body: z.object({ password: z.string().min(1).max(1024) }),
    response: session,
    status: 200,
  },
  signOut: { params: none, query: noQuery, body: undefined, response: undefined, status: 204 },
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

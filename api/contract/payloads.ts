import { z } from 'zod';
import { COLUMNS_TYPE } from './column-bytes.ts';
import { loggerFindings, siteFindings } from './findings-schema.ts';
import * as part from './payload-parts.ts';
import type { RouteId } from './route-table.ts';

/*
 * What goes in and comes out of every route. Requests are always checked against these schemas, responses in tests.
 * The page imports types from here, never values (zod stays out of the page).
 */

/** Most points of a chart's series. */
export const SERIES_POINTS_LIMIT = 20_000;
/** Longest span of findings and letters in days: what fits in memory as columns at one sample a second. */
export const FINDINGS_SPAN_LIMIT_DAYS = 400;
/** Bytes of a file's beginning that a preview reads. */
export const PREVIEW_BYTES_LIMIT = 256 * 1024;
/** Bytes of a JSON body. */
export const JSON_BYTES_LIMIT = 64 * 1024;
/** Sample messages of one trial, and characters of each; together they are bound by the body. */
export const TRIAL_MESSAGES_LIMIT = 20;
export const TRIAL_PAYLOAD_LIMIT = 32 * 1024;
/** Readings and refusals of one message that a trial shows. */
export const TRIAL_ENTRIES_SHOWN = 20;
/** Channels that one request may set. */
const CHANNELS_LIMIT = 6;

/** What a route takes and gives. A body or response that isn't JSON is named by its media types. */
export interface RoutePayload {
  readonly params: z.ZodObject;
  readonly query: z.ZodObject;
  readonly body: z.ZodType | undefined;
  readonly bodyTypes?: readonly string[];
  /** undefined: no content (204). */
  readonly response: z.ZodType | undefined;
  readonly responseTypes?: readonly string[];
  /** What a response type that isn't JSON holds. */
  readonly responseForms?: Readonly<Record<string, string>>;
  readonly status: 200 | 201 | 204 | 101;
  /** Other statuses with the same answer, and what each says. */
  readonly alsoStatus?: Readonly<Record<number, string>>;
}

const none = z.object({});
const noQuery = z.strictObject({});
const byId = z.object({ id: part.id });
const span = { from: part.emptyIsMissing(part.time), to: part.emptyIsMissing(part.time) };
const erase = z.strictObject({ erase: z.enum(['true', 'false']).optional() });
const hiddenToo = z.strictObject({ hidden: z.enum(['true', 'false']).optional() });
const csvBody = ['text/csv', 'application/gzip'] as const;
const csvOptions = {
  channel: part.emptyIsMissing(part.channel),
  time: part.emptyIsMissing(z.string().max(200)),
  value: part.emptyIsMissing(z.string().max(200)),
  unit: part.emptyIsMissing(z.string().max(16)),
  zone: part.emptyIsMissing(part.timeZone),
  date: part.emptyIsMissing(z.string().max(20)),
  dateOrder: part.emptyIsMissing(z.string().max(20)),
  clockForm: part.emptyIsMissing(z.string().max(10)),
  decimal: part.emptyIsMissing(z.string().max(1)),
  delimiter: part.emptyIsMissing(z.string().max(1)),
};

const siteChanges = z.object({
  name: part.name.optional(),
  timeZone: part.timeZone.optional(),
  thresholds: part.thresholds.partial().optional(),
  keepRawDays: part.keepRawDays.optional(),
  ...part.pumpAndFitting,
  /** false shows a hidden site again. */
  hidden: z.literal(false).optional(),
});

const height = z.number().min(-100).max(500);

const newLogger = z.object({
  id: part.id,
  site: part.id.nullable().optional(),
  position: part.position.default('incoming'),
  heightAboveSupplyPointM: height.default(0),
  channels: z
    .array(part.channelSetting)
    .min(1)
    .max(CHANNELS_LIMIT)
    .default([{ channel: 'pressure', unit: 'bar' }]),
  mapping: part.mapping.nullable().optional(),
  /** Since when it is there; samples of before belong to no site. Missing: everything it ever sent belongs here. */
  from: part.time.optional(),
});

const loggerChanges = z.object({
  site: part.id.nullable().optional(),
  position: part.position.optional(),
  heightAboveSupplyPointM: height.optional(),
  channels: z.array(part.channelSetting).min(1).max(CHANNELS_LIMIT).optional(),
  /** How its device's own messages are read, from now on; null: only our form again. */
  mapping: part.mapping.nullable().optional(),
  /** From when the changes hold; missing: from now. */
  from: part.time.optional(),
  hidden: z.literal(false).optional(),
});

const mappingTrial = z.object({
  mapping: part.mapping,
  messages: z
    .array(z.object({ topic: z.string().min(1).max(500), payload: z.string().max(TRIAL_PAYLOAD_LIMIT) }))
    .min(1)
    .max(TRIAL_MESSAGES_LIMIT),
});

const trialResult = z.object({
  messages: z.array(
    z.object({
      topic: z.string(),
      /** Whether the topic lies under the filter; nothing is read where it doesn't. */
      matches: z.boolean(),
      /** The first 20. */
      readings: z.array(
        z.object({
          channel: part.channel,
          time: part.time,
          /** Whether the message said the time, or its arrival would stand in. */
          timeFrom: z.enum(['message', 'arrival']),
          /** Canonical unit; null where the value can't be converted. */
          value: z.number().nullable(),
          unit: z.string(),
          valueAsSent: z.number(),
          unitAsSent: z.string(),
        }),
      ),
      readingCount: z.number().int(),
      /** The first 20; `index` null: the message as a whole. */
      refused: z.array(z.object({ index: z.number().int().nullable(), reason: z.string() })),
      refusedCount: z.number().int(),
    }),
  ),
});

const gaugePoint = z.object({
  /** What the program shows (canonical unit, with the calibration in force). Missing: the mean of the minute up to `at`. */
  readBar: part.bar.optional(),
  /** When the gauge was read; needed without `readBar`. */
  at: part.time.optional(),
  /** What the gauge shows. */
  gaugeBar: part.bar,
});

const newCalibration = z.object({
  /** One comparison sets the offset; two, at different pressures, gain and offset. The atmosphere (0 bar) counts as one. */
  points: z.array(gaugePoint).min(1).max(2),
  /** Limits of error of the gauge ±a in bar. Missing: 1.6 % of 10 bar. */
  gaugeAccuracyBar: z.number().positive().max(10).optional(),
  from: part.time.optional(),
  note: part.note.default(''),
});

const series = z.object({
  logger: part.id,
  channel: part.channel,
  unit: z.string(),
  resolution: z.enum(['raw', 'minute', 'hour']),
  /** Width of a bucket; null for raw samples. */
  stepMs: z.number().nullable(),
  time: z.array(z.number()),
  min: z.array(z.number()),
  max: z.array(z.number()),
  mean: z.array(z.number()),
  count: z.array(z.number().int()),
});

/** How a file was read, or would be. */
const understoodFile = z.looseObject({
  delimiter: z.string(),
  decimal: z.string(),
  timeColumns: z.array(z.string()),
  valueColumn: z.string(),
  unit: z.string(),
  zone: z.string(),
  headerLine: z.number().int().nullable(),
});

const importResult = z.looseObject({
  rows: z.number().int(),
  stored: z.number().int(),
  duplicate: z.number().int(),
  conflict: z.number().int(),
  /** Rows of hours whose samples were erased by age (`keepRawDays` of the site); they are left out. */
  erased: z.number().int(),
  /** The first 100. */
  refused: z.array(z.object({ line: z.number().int(), reason: z.string() })),
  refusedCount: z.number().int(),
  understood: understoodFile,
});

/** How a file would be read, judged from its beginning. The problem `needs_answer` holds the same `questions`. */
const importPreview = z.looseObject({
  columns: z.array(z.string()),
  /** null while the columns are open. */
  understood: understoodFile.nullable(),
  /** The time of the first row, as it stands in the file. */
  timeAsWritten: z.string().nullable(),
  rows: z.array(
    z.union([
      z.object({
        line: z.number().int(),
        text: z.string(),
        time: part.time,
        value: z.number(),
        unit: z.string(),
      }),
      z.object({ line: z.number().int(), text: z.string(), refused: z.string() }),
    ]),
  ),
  /** What would have to be answered: `option` is the parameter of the import that takes the answer. */
  questions: z.array(
    z.object({
      option: z.string(),
      question: z.string(),
      answers: z.array(z.object({ value: z.string(), meaning: z.string() })),
      example: z.string().optional(),
    }),
  ),
  /** False where only the beginning of the file was seen. */
  whole: z.boolean(),
});

const health = z.looseObject({
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

const about = z.object({
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

const recordCheck = z.object({
  state: z.enum(['never', 'running', 'done', 'failed']),
  started: part.time.nullable(),
  ended: part.time.nullable(),
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
      channel: part.channel.nullable(),
      /** Start of the UTC hour; null where no single hour is meant. */
      hour: part.time.nullable(),
      seen: z.string(),
    }),
  ),
  /** Why it could not be done. */
  failure: z.string().nullable(),
});

const session = z.object({
  /** Whether an owner's password is set. */
  accountExists: z.boolean(),
  signedIn: z.boolean(),
  /** True where this server asks for it and no one is signed in. */
  needsSignIn: z.boolean(),
});

export const PAYLOADS = {
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

  listSites: { params: none, query: hiddenToo, body: undefined, response: z.array(part.site), status: 200 },
  createSite: {
    params: none,
    query: noQuery,
    body: z.object({
      name: part.name,
      timeZone: part.timeZone,
      thresholds: part.thresholds.partial().optional(),
      keepRawDays: part.keepRawDays.optional(),
      ...part.pumpAndFitting,
    }),
    response: part.site,
    status: 201,
  },
  getSite: { params: byId, query: noQuery, body: undefined, response: part.site, status: 200 },
  updateSite: { params: byId, query: noQuery, body: siteChanges, response: part.site, status: 200 },
  deleteSite: { params: byId, query: erase, body: undefined, response: undefined, status: 204 },
  siteFindings: { params: byId, query: z.strictObject(span), body: undefined, response: siteFindings, status: 200 },
  letter: {
    params: byId,
    query: z.strictObject({ ...span, format: z.enum(['pdf', 'html']).default('pdf') }),
    body: undefined,
    response: z.string(),
    responseTypes: ['application/pdf', 'text/html'],
    status: 200,
  },

  listLoggers: { params: none, query: hiddenToo, body: undefined, response: z.array(part.logger), status: 200 },
  createLogger: {
    params: none,
    query: noQuery,
    body: newLogger,
    response: part.logger.extend({ key: z.string() }),
    status: 201,
  },
  getLogger: { params: byId, query: noQuery, body: undefined, response: part.logger, status: 200 },
  updateLogger: { params: byId, query: noQuery, body: loggerChanges, response: part.logger, status: 200 },
  deleteLogger: { params: byId, query: erase, body: undefined, response: undefined, status: 204 },
  renewLoggerKey: {
    params: byId,
    query: noQuery,
    body: undefined,
    response: z.object({ id: part.id, key: z.string() }),
    status: 200,
  },
  tryMapping: { params: byId, query: noQuery, body: mappingTrial, response: trialResult, status: 200 },
  loggerRefusals: {
    params: byId,
    query: noQuery,
    body: undefined,
    response: z.array(part.refusal),
    status: 200,
  },
  unknownRefusals: {
    params: none,
    query: noQuery,
    body: undefined,
    response: z.array(part.refusal),
    status: 200,
  },
  listCalibrations: {
    params: byId,
    query: noQuery,
    body: undefined,
    response: z.array(part.calibration),
    status: 200,
  },
  addCalibration: { params: byId, query: noQuery, body: newCalibration, response: part.calibration, status: 201 },
  series: {
    params: byId,
    query: z.strictObject({
      channel: part.channel.default('pressure'),
      ...span,
      points: part.emptyIsMissing(z.coerce.number<string | number>().int().min(1).max(SERIES_POINTS_LIMIT)),
    }),
    body: undefined,
    response: series,
    responseTypes: ['application/json', COLUMNS_TYPE, 'text/csv'],
    responseForms: {
      [COLUMNS_TYPE]:
        'The JSON answer as typed columns, little-endian: "MDC1", the length of the header (uint32), the header (JSON of everything but the columns, with `columns`: name, type float64, float32 or uint32, offset in bytes from the end of the header, length in numbers; ended by spaces), the columns. The header ends and each column begins at a multiple of eight bytes; columns may share their bytes. Times and counts are exact, values are kept to seven digits.',
      'text/csv':
        'Without `points`: every sample, RFC 4180 with the header time,value,value_as_sent,unit_as_sent, streamed. Where older samples were erased by age, the response header `Samples-From` says from when on they stand.',
    },
    status: 200,
  },
  loggerFindings: {
    params: byId,
    query: z.strictObject(span),
    body: undefined,
    response: loggerFindings,
    status: 200,
  },
  importSamples: {
    params: byId,
    query: z.strictObject(csvOptions),
    body: z.string(),
    bodyTypes: csvBody,
    response: importResult,
    status: 200,
  },
  previewImport: {
    params: byId,
    query: z.strictObject(csvOptions),
    body: z.string(),
    bodyTypes: csvBody,
    response: importPreview,
    status: 200,
  },
  live: { params: none, query: noQuery, body: undefined, response: undefined, status: 101 },
} as const satisfies Record<RouteId, RoutePayload>;

type Payloads = typeof PAYLOADS;
type OutputOf<S> = S extends z.ZodType ? z.output<S> : undefined;
type InputOf<S> = S extends z.ZodType ? z.input<S> : undefined;

/** What the client gives (before defaults) and what it gets. */
export type ParamsOf<Id extends RouteId> = InputOf<Payloads[Id]['params']>;
export type QueryOf<Id extends RouteId> = InputOf<Payloads[Id]['query']>;
export type BodyOf<Id extends RouteId> = InputOf<Payloads[Id]['body']>;
export type ResponseOf<Id extends RouteId> = OutputOf<Payloads[Id]['response']>;
/** What a handler is given (after defaults). */
export type CheckedParamsOf<Id extends RouteId> = OutputOf<Payloads[Id]['params']>;
export type CheckedQueryOf<Id extends RouteId> = OutputOf<Payloads[Id]['query']>;
export type CheckedBodyOf<Id extends RouteId> = OutputOf<Payloads[Id]['body']>;

export type SiteResource = z.output<typeof part.site>;
export type LoggerResource = z.output<typeof part.logger>;
export type LoggerStateCode = z.output<typeof part.loggerStateCode>;
export type CalibrationResource = z.output<typeof part.calibration>;
export type RefusalResource = z.output<typeof part.refusal>;
export type MappingTrialResponse = z.output<typeof trialResult>;
export type SeriesResponse = z.output<typeof series>;
export type ImportResponse = z.output<typeof importResult>;
export type ImportPreviewResponse = z.output<typeof importPreview>;
export type AboutResponse = z.output<typeof about>;
export type SessionResponse = z.output<typeof session>;
export type RecordCheckResponse = z.output<typeof recordCheck>;
export type HealthResponse = z.output<typeof health>;
/** Body of every error: RFC 9457 with a stable `code` and what to do. */
export interface ProblemBody {
  readonly type: string;
  readonly title: string;
  readonly status: number;
  readonly detail: string;
  readonly code: string;
  readonly hint: string;
  /** 400 only: where in the request. */
  readonly errors?: readonly { readonly place: string; readonly message: string }[];
}
export type { LoggerFindings, SiteFindings } from './findings-schema.ts';

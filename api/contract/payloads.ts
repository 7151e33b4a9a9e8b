import type { z } from 'zod';
import { CALIBRATION_PAYLOADS, type calibration } from './calibration-payloads.ts';
import { IMPORT_PAYLOADS, type importPreview, type importResult } from './import-payloads.ts';
import { LOGGER_PAYLOADS, type logger, type loggerStateCode, type refusal } from './logger-payloads.ts';
import { MAPPING_PAYLOADS, type trialResult } from './mapping-payloads.ts';
import { none, noQuery } from './payload-parts.ts';
import { type about, type health, PROGRAM_PAYLOADS, type recordCheck, type session } from './program-payloads.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';
import { SERIES_PAYLOADS, type series } from './series-payloads.ts';
import { SITE_PAYLOADS, type site } from './site-payloads.ts';

/*
 * What goes in and comes out of every route. Requests are always checked against these schemas, responses in tests.
 * The page imports types from here, never values (zod stays out of the page).
 */

export const PAYLOADS = {
  ...PROGRAM_PAYLOADS,
  ...SITE_PAYLOADS,
  ...LOGGER_PAYLOADS,
  ...MAPPING_PAYLOADS,
  ...CALIBRATION_PAYLOADS,
  ...SERIES_PAYLOADS,
  ...IMPORT_PAYLOADS,
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

export type SiteResource = z.output<typeof site>;
export type LoggerResource = z.output<typeof logger>;
export type LoggerStateCode = z.output<typeof loggerStateCode>;
export type CalibrationResource = z.output<typeof calibration>;
export type RefusalResource = z.output<typeof refusal>;
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

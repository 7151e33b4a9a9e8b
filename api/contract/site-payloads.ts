import { z } from 'zod';
import { siteFindings } from './findings-schema.ts';
import {
  byId,
  erase,
  hiddenToo,
  id,
  name,
  none,
  noQuery,
  position,
  span,
  thresholds,
  time,
  timeZone,
} from './payload-parts.ts';
import * as pump from './pump-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* Sites: what is kept of a house, what is found there, its letter. */

/** Longest span of findings and letters in days: what fits in memory as columns at one sample a second. */
export const FINDINGS_SPAN_LIMIT_DAYS = 400;

/** Longest age that a site may set, in days: a century. */
const KEEP_RAW_DAYS_LIMIT = 36_525;

/** Days for which single samples recorded at a site are kept; their minutes stay for good. null: samples too. */
const keepRawDays = z.number().int().min(1).max(KEEP_RAW_DAYS_LIMIT).nullable();

/** What an owner may say of the pump and of a fitting. null takes it back. */
const pumpAndFitting = {
  pump: z
    .object({
      allowedHours: pump.allowedHours.optional(),
      mostStartsPerHour: pump.mostStartsPerHour.optional(),
      startsLimitSource: pump.startsLimitSource.optional(),
      usableLitres: pump.usableLitres.optional(),
      vessel: pump.vessel.optional(),
      curve: pump.pumpCurve.optional(),
    })
    .nullable()
    .optional(),
  fitted: time.nullable().optional(),
  outletReadings: z.array(pump.outletReading.extend({ time })).max(pump.OUTLET_READINGS_LIMIT).optional(),
};

export const site = z.object({
  id,
  name: z.string(),
  timeZone: z.string(),
  created: time,
  thresholds,
  keepRawDays,
  ...pumpAndFitting,
  invented: z.boolean(),
  /** Time since which it is hidden; it is erased 30 days later. */
  hidden: time.nullable(),
  /** Loggers that are there now. */
  loggers: z.array(z.object({ id, position })),
  /** First and last pressure sample recorded at this site, by any logger; null before the first. */
  first: time.nullable(),
  last: time.nullable(),
});

const siteChanges = z.object({
  name: name.optional(),
  timeZone: timeZone.optional(),
  thresholds: thresholds.partial().optional(),
  keepRawDays: keepRawDays.optional(),
  ...pumpAndFitting,
  /** false shows a hidden site again. */
  hidden: z.literal(false).optional(),
});

export const SITE_PAYLOADS = {
  listSites: { params: none, query: hiddenToo, body: undefined, response: z.array(site), status: 200 },
  createSite: {
    params: none,
    query: noQuery,
    body: z.object({
      name: name,
      timeZone: timeZone,
      thresholds: thresholds.partial().optional(),
      keepRawDays: keepRawDays.optional(),
      ...pumpAndFitting,
    }),
    response: site,
    status: 201,
  },
  getSite: { params: byId, query: noQuery, body: undefined, response: site, status: 200 },
  updateSite: { params: byId, query: noQuery, body: siteChanges, response: site, status: 200 },
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
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

import { z } from 'zod';
import { COLUMNS_TYPE } from './column-bytes.ts';
import { loggerFindings } from './findings-schema.ts';
import { byId, channel, emptyIsMissing, id, span } from './payload-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* A logger's record: its columns and what it says. */

/** Most points of a chart's series. */
export const SERIES_POINTS_LIMIT = 20_000;

export const series = z.object({
  logger: id,
  channel: channel,
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

export const SERIES_PAYLOADS = {
  series: {
    params: byId,
    query: z.strictObject({
      channel: channel.default('pressure'),
      ...span,
      points: emptyIsMissing(z.coerce.number<string | number>().int().min(1).max(SERIES_POINTS_LIMIT)),
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
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

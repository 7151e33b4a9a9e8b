import { z } from 'zod';
import { bar, byId, channel, noQuery, note, time } from './payload-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* Comparisons with a gauge. */

export const calibration = z.object({
  channel,
  from: time,
  gain: z.number(),
  offset: z.number(),
  standardUncertainty: z.number(),
  note: z.string(),
});

const gaugePoint = z.object({
  /** What the program shows (canonical unit, with the calibration in force). Missing: the mean of the minute up to `at`. */
  readBar: bar.optional(),
  /** When the gauge was read; needed without `readBar`. */
  at: time.optional(),
  /** What the gauge shows. */
  gaugeBar: bar,
});

const newCalibration = z.object({
  /** One comparison sets the offset; two, at different pressures, gain and offset. The atmosphere (0 bar) counts as one. */
  points: z.array(gaugePoint).min(1).max(2),
  /** Limits of error of the gauge ±a in bar. Missing: 1.6 % of 10 bar. */
  gaugeAccuracyBar: z.number().positive().max(10).optional(),
  from: time.optional(),
  note: note.default(''),
});

export const CALIBRATION_PAYLOADS = {
  listCalibrations: {
    params: byId,
    query: noQuery,
    body: undefined,
    response: z.array(calibration),
    status: 200,
  },
  addCalibration: { params: byId, query: noQuery, body: newCalibration, response: calibration, status: 201 },
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

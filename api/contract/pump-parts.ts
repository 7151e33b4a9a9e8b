import { z } from 'zod';
import type { PumpCurvePoint } from '../../collector/model/pump-setting.ts';
import { BAR_PER_METRE_OF_WATER } from '../../collector/model/units.ts';

/* What a site may say of its pump and of a fitting, in SITE.json and in requests alike. */

/** Outlet readings of a site: some visits at every outlet of a house. */
export const OUTLET_READINGS_LIMIT = 200;
const CURVE_POINTS_LIMIT = 30;
const TEXT_LIMIT = 120;

const hour = z.number().min(0).max(24);
export const allowedHours = z
  .tuple([hour, hour])
  .refine(([from, to]) => from !== to, 'two different hours, for example [6, 22]');
export const mostStartsPerHour = z.number().min(1).max(3600);
export const startsLimitSource = z.string().trim().min(1).max(TEXT_LIMIT);
export const usableLitres = z.number().positive().max(10_000);
export const vessel = z.object({
  volumeL: z.number().positive().max(100_000),
  preChargeBar: z.number().min(0).max(100),
});
export const pumpCurve = z
  .array(z.object({ flowLpm: z.number().min(0).max(10_000), headM: z.number().min(0).max(1000) }))
  .min(2)
  .max(CURVE_POINTS_LIMIT)
  .refine(
    (points) => points.every((point, k) => k === 0 || point.flowLpm > points[k - 1]!.flowLpm),
    'ascending in flow',
  );

export const outletReading = z.object({
  outlet: z.string().trim().min(1).max(TEXT_LIMIT),
  flowLpm: z.number().min(0).max(1000).optional(),
  pressureBar: z.number().min(-1).max(100).optional(),
});

export function curveInBar(points: readonly { flowLpm: number; headM: number }[]): PumpCurvePoint[] {
  return points.map(({ flowLpm, headM }) => ({ flowLpm, headBar: headM * BAR_PER_METRE_OF_WATER }));
}

export function curveInMetres(points: readonly PumpCurvePoint[]): { flowLpm: number; headM: number }[] {
  return points.map(({ flowLpm, headBar }) => ({ flowLpm, headM: headBar / BAR_PER_METRE_OF_WATER }));
}

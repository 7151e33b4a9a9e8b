import { z } from 'zod';

/* How standing pressure goes by hour of the week, by share of the time and day by day: a part of the findings document. */

const kindOfDay = z.enum(['weekdays', 'weekend']);
const pressures = z.array(z.number().nullable());

const overlays = z.looseObject({
  /** Minutes of the local clock that each value stands for, from midnight to midnight. */
  slotMinutes: z.number(),
  countDays: z.number(),
  /** Every day of a log of up to two months. */
  days: z.array(
    z.looseObject({
      day: z.string(),
      weekday: z.number(),
      /** 23 or 25 where the clock changes. */
      hours: z.number(),
      sags: z.array(z.enum(['morning', 'evening'])),
      bar: pressures,
    }),
  ),
  /** Of longer logs, quantiles of the days. */
  bands: z.array(
    z.looseObject({
      days: kindOfDay,
      countDays: z.number(),
      saggingDays: z.number(),
      q10: pressures,
      q50: pressures,
      q90: pressures,
    }),
  ),
});

export const pattern = z.looseObject({
  hourOfWeek: z.array(
    z
      .looseObject({ q10: z.number(), q50: z.number(), q90: z.number(), count: z.number(), days: z.number() })
      .nullable(),
  ),
  durationCurve: z.array(z.looseObject({ share: z.number(), bar: z.number() })),
  below: z
    .looseObject({
      thresholdBar: z.number(),
      share: z.number(),
      shareInterval: z.tuple([z.number(), z.number()]),
      sensorBar: z.number(),
      knownFraction: z.number(),
    })
    .optional(),
  lowestHours: z.array(
    z.looseObject({
      days: kindOfDay,
      fromHour: z.number(),
      toHour: z.number(),
      medianBar: z.number(),
      levelBar: z.number(),
      countDays: z.number(),
    }),
  ),
  overlays,
  enough: z.looseObject({ week: z.boolean(), duration: z.boolean(), overlays: z.boolean() }),
});

import { z } from 'zod';
import { CHANNELS, LOGGER_ID_PATTERN, POSITIONS } from '../../collector/model/channel.ts';
import { mappingFaults, TIME_FORMS } from '../../collector/model/device-mapping.ts';
import { parseRfc3339 } from '../../collector/model/instant.ts';
import { POINTER_CHARACTERS } from '../../collector/model/json-pointer.ts';
import { isTimeZone } from '../../collector/model/local-time.ts';
import { FILTER_CHARACTERS } from '../../collector/model/topic-filter.ts';
import { isUnitOf, UNITS } from '../../collector/model/units.ts';
import * as pump from './pump-parts.ts';

/* The parts that several payloads share. Limits that keep input bounded stand here, beside what they bound. */

/** Longest name of a site and longest note, in characters. */
const NAME_LIMIT = 120;
const NOTE_LIMIT = 500;

export const id = z.string().regex(LOGGER_ID_PATTERN, 'one to 64 of a-z 0-9 - _');
export const channel = z.enum(CHANNELS);
export const position = z.enum(POSITIONS);
export const name = z.string().trim().min(1).max(NAME_LIMIT);
export const note = z.string().trim().max(NOTE_LIMIT);
export const timeZone = z
  .string()
  .max(64)
  .refine(isTimeZone, 'a time zone of the IANA list, for example Europe/London');

/** A moment in a request or a response: RFC 3339. */
export const time = z
  .string()
  .max(40)
  .refine((text) => parseRfc3339(text) !== undefined, 'an RFC 3339 time, for example 2026-05-04T06:30:00Z')
  .meta({ format: 'date-time' });

/** Empty query values mean the same as missing ones. */
export const emptyIsMissing = <T extends z.ZodType>(schema: T) =>
  z.union([z.literal('').transform(() => undefined), schema]).optional();

export const bar = z.number().min(-1).max(1000);

export const thresholds = z.object({
  lowSupplyBar: z.number().min(0).max(20),
  weakInletBar: z.number().min(-1).max(20),
  sagMinDepthBar: z.number().min(0.01).max(20),
});

const endPoint = z.object({ raw: z.number().min(-1e9).max(1e9), bar });

export const channelSetting = z
  .object({
    channel,
    unit: z.string().max(16),
    rangeBar: z
      .tuple([bar, bar])
      .refine(([low, high]) => low < high, 'the lower end first, for example [0, 10]')
      .optional(),
    accuracyBar: z.number().positive().max(100).optional(),
    endPoints: z
      .tuple([endPoint, endPoint])
      .refine(([low, high]) => low.raw !== high.raw, 'two points with different raw values')
      .optional(),
    intervalS: z.number().min(0.001).max(86_400).optional(),
  })
  .superRefine((setting, context) => {
    if (isUnitOf(setting.channel, setting.unit)) return;
    context.addIssue({
      code: 'custom',
      path: ['unit'],
      message: `a unit of ${setting.channel}: ${UNITS[setting.channel].join(', ')}`,
    });
  });

const pointer = z.string().max(POINTER_CHARACTERS).describe('JSON Pointer (RFC 6901); empty: the whole message');

/** For a device whose firmware can't be told our topics and payloads. */
export const mapping = z
  .object({
    /** MQTT topic filter; + and # by the standard's rules. */
    filter: z.string().max(FILTER_CHARACTERS),
    channels: z
      .array(
        z.object({
          channel,
          /** To a list of entries; `value` and `time` are then looked for in each. */
          entries: pointer.optional(),
          value: pointer,
          /** Missing: the time of arrival. */
          time: z.object({ pointer, form: z.enum(TIME_FORMS) }).optional(),
        }),
      )
      .min(1)
      .max(CHANNELS.length),
  })
  .superRefine((given, context) => {
    for (const { place, message } of mappingFaults(given))
      context.addIssue({
        code: 'custom',
        message,
        path: place.split('.').map((step) => (/^\d+$/.test(step) ? Number(step) : step)),
      });
  });

export const placement = z.object({
  from: time,
  site: id.nullable(),
  position,
  heightAboveSupplyPointM: z.number(),
});

export const LOGGER_STATE_CODES = ['logging', 'silent', 'never_heard', 'not_readable', 'store_failing'] as const;

export const loggerStateCode = z.enum(LOGGER_STATE_CODES);

export const latestSample = z.object({
  channel,
  time,
  /** Canonical unit; null where the value can't be converted (volts without end points). */
  value: z.number().nullable(),
  unit: z.string(),
  valueAsSent: z.number(),
  unitAsSent: z.string(),
  arrived: time,
});

export const extent = z.object({
  channel,
  first: time,
  last: time,
  count: z.number().int(),
  /** From when on single samples are there, where older ones were erased by age; null where none were. */
  samplesFrom: time.nullable(),
});

/** Longest age that a site may set, in days: a century. */
const KEEP_RAW_DAYS_LIMIT = 36_525;
/** Days for which single samples recorded at a site are kept; their minutes stay for good. null: samples too. */
export const keepRawDays = z.number().int().min(1).max(KEEP_RAW_DAYS_LIMIT).nullable();

/** What an owner may say of the pump and of a fitting. null takes it back. */
export const pumpAndFitting = {
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

export const logger = z.object({
  id,
  created: time,
  hidden: time.nullable(),
  /** Where it is now; null: in nobody's house. */
  site: id.nullable(),
  position,
  heightAboveSupplyPointM: z.number(),
  /** How its channels are read now. */
  channels: z.array(
    z.object({
      channel,
      unit: z.string(),
      from: time,
      rangeBar: z.tuple([z.number(), z.number()]).optional(),
      accuracyBar: z.number().optional(),
      endPoints: z
        .tuple([z.object({ raw: z.number(), bar: z.number() }), z.object({ raw: z.number(), bar: z.number() })])
        .optional(),
      intervalS: z.number().optional(),
    }),
  ),
  placements: z.array(placement),
  /** How its device's own messages are read; null: it speaks our form. */
  mapping: z
    .object({
      filter: z.string(),
      channels: z.array(
        z.object({
          channel,
          entries: z.string().optional(),
          value: z.string(),
          time: z.object({ pointer: z.string(), form: z.enum(TIME_FORMS) }).optional(),
        }),
      ),
      /** Why nothing can come under its filter: what the outside broker said to the subscription. */
      refusedByBroker: z.string().optional(),
    })
    .nullable(),
  /** In words: "logging", "silent since …", "nothing received yet", "storing fails: …". */
  state: z.string(),
  stateCode: loggerStateCode,
  presence: z.object({ state: z.enum(['online', 'offline', 'unknown']), since: time.nullable() }),
  /** The logger's own clock, judged from how late its messages come. Stored times are never shifted. */
  clock: z.object({
    /** `none`: its readings carry no time of their own. `unknown`: too little, or only late messages came so far. */
    state: z.enum(['right', 'ahead', 'behind', 'unknown', 'none']),
    /** Its clock less ours in seconds: positive is ahead. */
    offsetS: z.number().nullable(),
    /** Expanded uncertainty (k = 2) of the offset. */
    uncertaintyS: z.number().nullable(),
    /** Gained a million seconds; null before a day has passed. */
    driftPpm: z.number().nullable(),
    /** The newest few, ascending. */
    jumps: z.array(z.object({ at: time, byS: z.number() })),
  }),
  /** The newest sample by its own time: of pressure where there is one. */
  lastSample: latestSample.nullable(),
  /** The newest sample of each channel. */
  latest: z.array(latestSample),
  extents: z.array(extent),
  /** What its sealed hours and their minutes take on the disk; its open hours are not in it. */
  bytes: z.number(),
  /** Mean of the last whole days, at most seven; null before the first. */
  bytesPerDay: z.number().nullable(),
  calibrated: z.boolean(),
  /** Expanded uncertainty (k = 2) of a pressure reading from the sensor alone, in bar; null without a pressure channel. */
  sensorUBar: z.number().nullable(),
  refused: z.number().int(),
});

export const calibration = z.object({
  channel,
  from: time,
  gain: z.number(),
  offset: z.number(),
  standardUncertainty: z.number(),
  note: z.string(),
});

export const refusal = z.object({ topic: z.string(), time, reason: z.string(), excerpt: z.string() });

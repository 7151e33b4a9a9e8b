import { z } from 'zod';
import { TIME_FORMS } from '../../collector/model/device-mapping.ts';
import { isUnitOf, UNITS } from '../../collector/model/units.ts';
import { mapping } from './mapping-payloads.ts';
import { bar, byId, channel, erase, hiddenToo, id, none, noQuery, position, time } from './payload-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* Loggers: what each is, what is refused of it, and how its channels are read. */

/** Channels that one request may set. */
const CHANNELS_LIMIT = 6;

const endPoint = z.object({ raw: z.number().min(-1e9).max(1e9), bar });

const channelSetting = z
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

const placement = z.object({
  from: time,
  site: id.nullable(),
  position,
  heightAboveSupplyPointM: z.number(),
});

const LOGGER_STATE_CODES = ['logging', 'silent', 'never_heard', 'not_readable', 'store_failing'] as const;

export const loggerStateCode = z.enum(LOGGER_STATE_CODES);

const latestSample = z.object({
  channel,
  time,
  /** Canonical unit; null where the value can't be converted (volts without end points). */
  value: z.number().nullable(),
  unit: z.string(),
  valueAsSent: z.number(),
  unitAsSent: z.string(),
  arrived: time,
});

const extent = z.object({
  channel,
  first: time,
  last: time,
  count: z.number().int(),
  /** From when on single samples are there, where older ones were erased by age; null where none were. */
  samplesFrom: time.nullable(),
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

export const refusal = z.object({ topic: z.string(), time, reason: z.string(), excerpt: z.string() });

const height = z.number().min(-100).max(500);

const newLogger = z.object({
  id: id,
  site: id.nullable().optional(),
  position: position.default('incoming'),
  heightAboveSupplyPointM: height.default(0),
  channels: z
    .array(channelSetting)
    .min(1)
    .max(CHANNELS_LIMIT)
    .default([{ channel: 'pressure', unit: 'bar' }]),
  mapping: mapping.nullable().optional(),
  /** Since when it is there; samples of before belong to no site. Missing: everything it ever sent belongs here. */
  from: time.optional(),
});

const loggerChanges = z.object({
  site: id.nullable().optional(),
  position: position.optional(),
  heightAboveSupplyPointM: height.optional(),
  channels: z.array(channelSetting).min(1).max(CHANNELS_LIMIT).optional(),
  /** How its device's own messages are read, from now on; null: only our form again. */
  mapping: mapping.nullable().optional(),
  /** From when the changes hold; missing: from now. */
  from: time.optional(),
  hidden: z.literal(false).optional(),
});

export const LOGGER_PAYLOADS = {
  listLoggers: { params: none, query: hiddenToo, body: undefined, response: z.array(logger), status: 200 },
  createLogger: {
    params: none,
    query: noQuery,
    body: newLogger,
    response: logger.extend({ key: z.string() }),
    status: 201,
  },
  getLogger: { params: byId, query: noQuery, body: undefined, response: logger, status: 200 },
  updateLogger: { params: byId, query: noQuery, body: loggerChanges, response: logger, status: 200 },
  deleteLogger: { params: byId, query: erase, body: undefined, response: undefined, status: 204 },
  renewLoggerKey: {
    params: byId,
    query: noQuery,
    body: undefined,
    response: z.object({ id: id, key: z.string() }),
    status: 200,
  },
  loggerRefusals: {
    params: byId,
    query: noQuery,
    body: undefined,
    response: z.array(refusal),
    status: 200,
  },
  unknownRefusals: {
    params: none,
    query: noQuery,
    body: undefined,
    response: z.array(refusal),
    status: 200,
  },
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

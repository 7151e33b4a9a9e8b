import { z } from 'zod';
import { CHANNELS } from '../../collector/model/channel.ts';
import { mappingFaults, TIME_FORMS } from '../../collector/model/device-mapping.ts';
import { POINTER_CHARACTERS } from '../../collector/model/json-pointer.ts';
import { FILTER_CHARACTERS } from '../../collector/model/topic-filter.ts';
import { byId, channel, noQuery, time } from './payload-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* How a device's own messages are read, and trying it. */

/** Sample messages of one trial, and characters of each; together they are bound by the body. */
export const TRIAL_MESSAGES_LIMIT = 20;

export const TRIAL_PAYLOAD_LIMIT = 32 * 1024;

/** Readings and refusals of one message that a trial shows. */
export const TRIAL_ENTRIES_SHOWN = 20;

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

const mappingTrial = z.object({
  mapping: mapping,
  messages: z
    .array(z.object({ topic: z.string().min(1).max(500), payload: z.string().max(TRIAL_PAYLOAD_LIMIT) }))
    .min(1)
    .max(TRIAL_MESSAGES_LIMIT),
});

export const trialResult = z.object({
  messages: z.array(
    z.object({
      topic: z.string(),
      /** Whether the topic lies under the filter; nothing is read where it doesn't. */
      matches: z.boolean(),
      /** The first 20. */
      readings: z.array(
        z.object({
          channel: channel,
          time: time,
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

export const MAPPING_PAYLOADS = {
  tryMapping: { params: byId, query: noQuery, body: mappingTrial, response: trialResult, status: 200 },
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

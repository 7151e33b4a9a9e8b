import { z } from 'zod';
import { CHANNELS, LOGGER_ID_PATTERN, POSITIONS } from '../../collector/model/channel.ts';
import { parseRfc3339 } from '../../collector/model/instant.ts';
import { isTimeZone } from '../../collector/model/local-time.ts';

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

/** What paths and queries of several routes take. */
export const none = z.object({});
export const noQuery = z.strictObject({});
export const byId = z.object({ id });
export const span = { from: emptyIsMissing(time), to: emptyIsMissing(time) };
export const erase = z.strictObject({ erase: z.enum(['true', 'false']).optional() });
export const hiddenToo = z.strictObject({ hidden: z.enum(['true', 'false']).optional() });

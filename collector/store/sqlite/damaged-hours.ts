import type { Channel } from '../../model/channel.ts';
import { formatRfc3339 } from '../../model/instant.ts';
import { Problem } from '../../model/problem.ts';
import type { EpochMs } from '../../model/units.ts';
import { asProblem } from './open-database.ts';

/** Where in the record something can't be read. Times are those of whole hours or days. */
export interface DamagedPlace {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
}

/** Whether it is what is stored that is at fault: a page, a payload that can't be unpacked, samples that don't fit. */
export function isDamage(path: string, error: unknown): boolean {
  const problem = asProblem(path, error);
  return problem instanceof Problem && problem.code === 'store_corrupt';
}

/** The Problem `store_corrupt` with its place, so that the rest can be asked for and a backup be looked at. */
export function damagedHours(path: string, place: DamagedPlace, error: unknown): Problem {
  const cause = error instanceof Problem && error.cause instanceof Error ? error.cause : error;
  const seen = cause instanceof Error ? cause.message : String(cause);
  const { loggerId, channel, fromMs, toMs } = place;
  const span = `from ${formatRfc3339(fromMs)} to ${formatRfc3339(toMs)}`;
  return new Problem(
    'store_corrupt',
    `The ${channel} of logger ${loggerId} ${span} is damaged in the store ${path}: ${seen}.`,
    'Everything else can still be read: ask for other times. Keep a copy of the data folder; "mainsdiary check" lists all that is damaged, "mainsdiary restore FILE" puts the newest backup back.',
    { cause, details: { logger: loggerId, channel, from: formatRfc3339(fromMs), to: formatRfc3339(toMs) } },
  );
}

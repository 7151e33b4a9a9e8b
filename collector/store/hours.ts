import type { Channel } from '../model/channel.ts';
import type { EpochMs } from '../model/units.ts';

/** Samples are filed by whole UTC hours, counted from 1970: the unit of sealing, reading and erasing. */
export type HourNumber = number;

export const HOUR_MS = 3_600_000;
export const DAY_MS = 86_400_000;
export const HOURS_PER_DAY = 24;

/**
 * How long after its end an hour stays open, in milliseconds. Loggers that pack a minute or two into a message are then
 * sealed once; what comes later still goes in, at the cost of sealing the hour again.
 */
export const SEALING_GRACE_MS = 120_000;

export function hourOf(atMs: EpochMs): HourNumber {
  return Math.floor(atMs / HOUR_MS);
}

export function startOfHourMs(hour: HourNumber): EpochMs {
  return hour * HOUR_MS;
}

export function dayOfHour(hour: HourNumber): number {
  return Math.floor(hour / HOURS_PER_DAY);
}

/** Hours below this one are closed at `nowMs`. */
export function firstOpenHour(nowMs: EpochMs): HourNumber {
  return hourOf(nowMs - SEALING_GRACE_MS);
}

/** How channels are numbered in the file. Never renumber: the numbers are in every row. */
export const CHANNEL_NUMBER: Readonly<Record<Channel, number>> = {
  pressure: 1,
  flow: 2,
  pump: 3,
  temperature: 4,
  battery: 5,
  signal: 6,
};

export function channelOfNumber(number: number): Channel | undefined {
  return (Object.keys(CHANNEL_NUMBER) as Channel[]).find((channel) => CHANNEL_NUMBER[channel] === number);
}

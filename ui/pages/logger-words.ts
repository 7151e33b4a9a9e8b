import type { LoggerResource } from '../../api/contract/payloads.ts';
import { ago, bytes, dateAndClock, valueWithUnit } from '../format.ts';
import { createSiteTime } from '../site-time.ts';
import { POSITION_WORDS } from '../terms.ts';

/** How a logger is, in one sentence that begins with its name. */
export function loggerSentence(logger: LoggerResource, nowMs: number, timeZone: string | undefined): string {
  // The name stands as it is: a capital letter would make it another name.
  return `${logger.id}, ${loggerState(logger, nowMs, timeZone)}`;
}

/** The same where its name stands above: where it is, how it is, its last value. */
export function loggerState(logger: LoggerResource, nowMs: number, timeZone: string | undefined): string {
  const calibrated = logger.calibrated || logger.sensorUBar === null ? '' : ', not calibrated';
  const words = `${placeWords(logger)}: ${shortState(logger, timeZone)}${calibrated}${lastWords(logger, nowMs)}`;
  return words.endsWith('.') ? words : `${words}.`;
}

/** What its sealed hours take on the disk, and what it adds. */
export function roomTaken(logger: Pick<LoggerResource, 'bytes' | 'bytesPerDay'>): string {
  const rate = logger.bytesPerDay === null ? '' : `, some ${bytes(logger.bytesPerDay)} more a day`;
  return `Its sealed hours take ${bytes(logger.bytes)} on the disk${rate}.`;
}

/** Where it stands; in nobody's house it has no position that would mean anything. */
export function placeWords({ site, position }: Pick<LoggerResource, 'site' | 'position'>): string {
  return site === null ? 'in nobody’s house' : POSITION_WORDS[position];
}

/** What keeps samples from being stored stands at the head of every page, once. */
export function shortState(logger: Pick<LoggerResource, 'state' | 'stateCode'>, timeZone: string | undefined): string {
  return logger.stateCode === 'store_failing' ? 'storing fails' : stateWords(logger.state, timeZone);
}

/** A state as the server words it, its times by the clock of the site (of UTC, and said so, in nobody's house). */
export function stateWords(state: string, timeZone: string | undefined): string {
  const time = createSiteTime(timeZone ?? 'UTC');
  return state.replace(
    /\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z/g,
    (text) => `${dateAndClock(Date.parse(text), time)}${timeZone === undefined ? ' UTC' : ''}`,
  );
}

function lastWords(logger: LoggerResource, nowMs: number): string {
  const last = logger.lastSample;
  if (!last || logger.stateCode !== 'logging') return '';
  return `; last ${sampleWords(last)}, ${ago(Date.parse(last.time), nowMs)}`;
}

/** A sample's value, or what was sent where it can't be converted. */
export function sampleWords(sample: NonNullable<LoggerResource['lastSample']>): string {
  if (sample.value !== null) return valueWithUnit(sample.value, sample.unit);
  return `${sample.valueAsSent} ${sample.unitAsSent} as sent, not readable as ${sample.channel} yet`;
}

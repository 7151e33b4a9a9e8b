import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { LoggerPresence } from '../../collector/ports.ts';
import type { LoggerStateCode } from '../contract/payloads.ts';

/** A logger that keeps its interval may miss this many readings before it is called silent. */
const MISSED_INTERVALS = 5;
/** Without a known interval, and for short ones: batches and weak radio make pauses of minutes ordinary. */
const SHORTEST_SILENCE_MS = 10 * 60_000;
/** Devices that sleep, and commands, close their connection after each message: that alone is no silence. */
const SHORTEST_ABSENCE_MS = 2 * 60_000;

export interface LoggerStateFacts {
  readonly presence: LoggerPresence;
  /** Undefined before the first. */
  readonly lastHeardMs: EpochMs | undefined;
  readonly intervalS: number | undefined;
  /** Unit of the newest pressure sample where it can't be read as a pressure. */
  readonly unreadableUnit: string | undefined;
  /** Why samples can't be stored just now. */
  readonly storeFailure: string | undefined;
  /** What is to be said of its clock; undefined: nothing. */
  readonly clock?: string | undefined;
  readonly nowMs: EpochMs;
}

/** A sample this much older than its arrival came from a file or a long buffer: it doesn't show a logger at work. */
const BELATED_MS = 24 * 3600_000;

/** When a logger was last heard, from its newest sample. */
export function lastHeardMs(sample: { readonly atMs: EpochMs; readonly arrivedMs: EpochMs }): EpochMs {
  return sample.arrivedMs - sample.atMs > BELATED_MS ? sample.atMs : sample.arrivedMs;
}

/** What a logger is doing, in a code and in words. Times in UTC; the page says them in the site's zone. */
export function loggerState(facts: LoggerStateFacts): { stateCode: LoggerStateCode; state: string } {
  if (facts.storeFailure !== undefined)
    return { stateCode: 'store_failing', state: `storing fails: ${facts.storeFailure}` };
  if (facts.lastHeardMs === undefined) return { stateCode: 'never_heard', state: 'nothing received yet' };
  if (isSilent(facts, facts.lastHeardMs))
    return { stateCode: 'silent', state: `silent since ${formatRfc3339(facts.lastHeardMs)}` };
  if (facts.unreadableUnit !== undefined)
    return {
      stateCode: 'not_readable',
      state: `logging, but ${facts.unreadableUnit} can't be read as a pressure: set the transducer's end points`,
    };
  return { stateCode: 'logging', state: facts.clock === undefined ? 'logging' : `logging, but ${facts.clock}` };
}

/** Silent: gone and not back soon, or quiet for longer than its interval explains. */
function isSilent(facts: LoggerStateFacts, heardMs: EpochMs): boolean {
  const gone = facts.presence.state === 'offline' && facts.presence.sinceMs >= heardMs;
  const shortestMs = gone ? SHORTEST_ABSENCE_MS : SHORTEST_SILENCE_MS;
  const allowedMs = Math.max(shortestMs, MISSED_INTERVALS * 1000 * (facts.intervalS ?? 0));
  return facts.nowMs - heardMs > allowedMs;
}

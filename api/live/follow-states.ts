import type { Clock } from '../../collector/model/clock.ts';
import type { Log } from '../../collector/ports.ts';
import { LIVE_VERSION, type LoggerFrame } from '../contract/live-frames.ts';
import type { LoggerResource } from '../contract/payloads.ts';

/** A state changes by silence too, which nobody tells: it is looked for this often. */
const LOOK_EVERY_MS = 10_000;

/** Tells open pages when a logger's state or presence changes. Returns what ends it. */
export function followStates(needs: {
  clock: Clock;
  log: Log;
  /** Nothing is looked for while nobody looks. */
  readers: () => number;
  loggers: () => Promise<LoggerResource[]>;
  /** Calls back when a connection opens or closes. */
  onPresence: (listener: () => void) => () => void;
  send: (frame: LoggerFrame) => void;
}): () => void {
  const { clock, log, readers, loggers, send } = needs;
  const told = new Map<string, string>();
  let looking = false;

  async function look(): Promise<void> {
    if (looking || readers() === 0) return;
    looking = true;
    try {
      for (const logger of await loggers()) {
        const { id, state, stateCode, presence } = logger;
        const now = `${stateCode} ${presence.state} ${state}`;
        const before = told.get(id);
        told.set(id, now);
        if (before === undefined || before === now) continue;
        send({
          type: 'logger',
          version: LIVE_VERSION,
          logger: id,
          state,
          stateCode,
          presence: presence.state,
          sinceMs: presence.since === null ? clock.nowMs() : Date.parse(presence.since),
        });
      }
    } catch (error) {
      log.warn({ err: error }, 'the state of the loggers could not be looked at');
    } finally {
      looking = false;
    }
  }

  const stopTimer = clock.every(LOOK_EVERY_MS, () => void look());
  const stopPresence = needs.onPresence(() => void look());
  return () => {
    stopTimer();
    stopPresence();
  };
}

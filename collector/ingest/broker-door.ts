import type { Socket } from 'node:net';
import { isLoggerId } from '../model/channel.ts';
import type { EpochMs } from '../model/units.ts';
import type { Log } from '../ports.ts';
import { createAttemptLimits } from './attempt-limits.ts';
import { shownTopic } from './excerpt.ts';

/** Failures from one address, whatever the names, before it has to wait: many loggers may stand behind it. */
const FREE_FAILURES_AN_ADDRESS = 50;
/** So many of them have a log line; who tries names at random doesn't fill the log. */
const LOGGED_FAILURES_AN_ADDRESS = 10;

export interface DoorLimits {
  /** Open connections in all, and from one address (a fleet may stand behind one router). */
  readonly connections: number;
  readonly connectionsAnAddress: number;
}

/** Who may come in: connections are counted, keys checked, failures made to wait. */
export interface BrokerDoor {
  /** Counts the connection until it closes; false: there are too many, or its address has to wait. */
  admit(socket: Socket): boolean;
  /** The logger's name where the key is its own. Waits first where the logger has offended. Rejects as the check does. */
  login(address: string, user: string | undefined, key: Uint8Array | undefined): Promise<string | undefined>;
  /** A connection without a key did what it mustn't. */
  strangerFailed(address: string): void;
  /** A logger did: it is let in later each time, as it would otherwise come back at once and for ever. True: the first time. */
  offended(loggerId: string): boolean;
}

export function createBrokerDoor(needs: {
  limits: DoorLimits;
  authenticate(loggerId: string, key: string): Promise<boolean>;
  nowMs(): EpochMs;
  log: Log;
}): BrokerDoor {
  const { limits, nowMs, log } = needs;
  const perAddress = new Map<string, number>();
  let open = 0;
  const strangers = createAttemptLimits();
  const addresses = createAttemptLimits(FREE_FAILURES_AN_ADDRESS);
  const offenders = createAttemptLimits(0);

  return {
    admit(socket) {
      const address = socket.remoteAddress ?? '';
      const fromThere = perAddress.get(address) ?? 0;
      if (open >= limits.connections || fromThere >= limits.connectionsAnAddress) return false;
      if (addresses.waitMs(address, nowMs()) > 0) return false;
      open += 1;
      perAddress.set(address, fromThere + 1);
      socket.once('close', () => {
        open -= 1;
        const left = (perAddress.get(address) ?? 1) - 1;
        if (left === 0) perAddress.delete(address);
        else perAddress.set(address, left);
      });
      return true;
    },
    async login(address, user, key) {
      const name = (user ?? '').slice(0, 64);
      const who = `${address} ${name}`;
      if (strangers.waitMs(who, nowMs()) > 0) return undefined;
      const asked = user !== undefined && key !== undefined && isLoggerId(user);
      if (!asked || !(await needs.authenticate(user, Buffer.from(key).toString()))) {
        const fromAddress = addresses.failed(address, nowMs());
        if (strangers.failed(who, nowMs()) === 1 && fromAddress <= LOGGED_FAILURES_AN_ADDRESS) {
          log.warn({ address, user: shownTopic(name) }, 'a wrong or missing key');
        }
        return undefined;
      }
      const waitMs = offenders.waitMs(user, nowMs());
      if (waitMs > 0) await new Promise((resolve) => setTimeout(resolve, waitMs));
      return user;
    },
    strangerFailed: (address) => void addresses.failed(address, nowMs()),
    offended: (loggerId) => offenders.failed(loggerId, nowMs()) === 1,
  };
}

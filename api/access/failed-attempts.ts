import type { EpochMs } from '../../collector/model/units.ts';

/** Attempts that cost nothing: a person mistypes. */
const FREE_ATTEMPTS = 3;
/** Wait after the first attempt beyond those; doubled by each further one. */
const FIRST_WAIT_MS = 2_000;
const LONGEST_WAIT_MS = 15 * 60_000;
/** After this long without a failure an address is forgotten. */
const FORGOTTEN_AFTER_MS = 60 * 60_000;
/** Addresses remembered at once; beyond it the oldest is forgotten. */
const ADDRESSES_LIMIT = 2_000;

/** Slows guessing of the password, per address. An IPv6 network of 64 bits counts as one address. */
export interface FailedAttempts {
  /** Milliseconds to wait before the next attempt from there is looked at; nought: now. */
  waitMs(address: string, nowMs: EpochMs): number;
  failed(address: string, nowMs: EpochMs): void;
  succeeded(address: string): void;
}

export function createFailedAttempts(): FailedAttempts {
  const known = new Map<string, { failures: number; lastMs: EpochMs }>();
  return {
    waitMs(address, nowMs) {
      const entry = known.get(networkOf(address));
      if (!entry || nowMs - entry.lastMs > FORGOTTEN_AFTER_MS || entry.failures < FREE_ATTEMPTS) return 0;
      const wait = Math.min(FIRST_WAIT_MS * 2 ** (entry.failures - FREE_ATTEMPTS), LONGEST_WAIT_MS);
      return Math.max(0, entry.lastMs + wait - nowMs);
    },
    failed(address, nowMs) {
      const key = networkOf(address);
      const before = known.get(key);
      const remembered = before && nowMs - before.lastMs <= FORGOTTEN_AFTER_MS ? before.failures : 0;
      known.delete(key);
      known.set(key, { failures: remembered + 1, lastMs: nowMs });
      if (known.size > ADDRESSES_LIMIT) known.delete(known.keys().next().value ?? key);
    },
    succeeded(address) {
      known.delete(networkOf(address));
    },
  };
}

/** An IPv4 address as it is (mapped ones too); of IPv6 the first four groups, which one household shares. */
function networkOf(address: string): string {
  const mapped = /^::ffff:(\d+\.\d+\.\d+\.\d+)$/i.exec(address);
  if (mapped) return mapped[1]!;
  if (!address.includes(':')) return address;
  const [head = '', tail] = address.split('%')[0]!.split('::');
  const front = head === '' ? [] : head.split(':');
  const back = tail === undefined || tail === '' ? [] : tail.split(':');
  const filler = tail === undefined ? [] : Array(Math.max(0, 8 - front.length - back.length)).fill('0');
  return [...front, ...filler, ...back].slice(0, 4).join(':');
}

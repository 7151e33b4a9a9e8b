import type { EpochMs } from '../model/units.ts';

/** Failures that cost nothing: a key mistyped, a cable pulled. */
const FREE_FAILURES = 5;
/** From there each failure doubles the wait, up to a minute. */
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 60_000;
/** Failures older than this are forgiven. */
const FORGIVEN_AFTER_MS = 600_000;
/** Who is remembered; beyond it the oldest is forgotten, so that many addresses cost no memory. */
const MAX_REMEMBERED = 10_000;

export interface AttemptLimits {
  /** Milliseconds that are still to wait, 0 where another attempt may be made. */
  waitMs(who: string, nowMs: EpochMs): number;
  /** Counts a failure; returns how many there are. */
  failed(who: string, nowMs: EpochMs): number;
}

/** Counts failures by whoever made them (an address, an address with a user name) and lets each next one wait longer. */
export function createAttemptLimits(freeFailures = FREE_FAILURES): AttemptLimits {
  const remembered = new Map<string, { failures: number; lastMs: EpochMs }>();
  return {
    waitMs(who, nowMs) {
      const entry = remembered.get(who);
      if (entry === undefined) return 0;
      if (nowMs - entry.lastMs > FORGIVEN_AFTER_MS) {
        remembered.delete(who);
        return 0;
      }
      const over = entry.failures - freeFailures;
      if (over < 0) return 0;
      const wait = Math.min(FIRST_WAIT_MS * 2 ** Math.min(over, 20), LONGEST_WAIT_MS);
      return Math.max(0, entry.lastMs + wait - nowMs);
    },
    failed(who, nowMs) {
      const failures = (remembered.get(who)?.failures ?? 0) + 1;
      remembered.delete(who);
      remembered.set(who, { failures, lastMs: nowMs });
      if (remembered.size > MAX_REMEMBERED) remembered.delete(remembered.keys().next().value!);
      return failures;
    },
  };
}

import type { IntakeCounters } from '../ports.ts';
import type { Settings } from '../store/port.ts';

/** Under this name the counters are kept in the store's state. */
const STATE_NAME = 'intake-counters';

export interface CounterBook {
  readonly total: IntakeCounters;
  /** Messages that name no known logger. */
  readonly unknown: IntakeCounters;
  of(loggerId: string | undefined): IntakeCounters;
  loggers(): ReadonlyMap<string, IntakeCounters>;
  /** Adds what earlier runs counted. */
  restore(store: Pick<Settings, 'state'>): Promise<void>;
  /** Writes the counters where they have changed since. */
  save(store: Pick<Settings, 'putState'>): Promise<void>;
}

type Counted = Exclude<keyof IntakeCounters, 'waiting'>;
const COUNTED: readonly Counted[] = ['messages', 'stored', 'duplicate', 'conflict', 'erased', 'refused'];

/** Counters in all, per known logger, and of strangers; they outlive a restart. */
export function createCounterBook(): CounterBook {
  const total = nought();
  const unknown = nought();
  const byLogger = new Map<string, IntakeCounters>();
  let savedAs = '';

  const of = (loggerId: string | undefined): IntakeCounters => {
    if (loggerId === undefined) return unknown;
    let counters = byLogger.get(loggerId);
    if (counters === undefined) {
      counters = nought();
      byLogger.set(loggerId, counters);
    }
    return counters;
  };

  return {
    total,
    unknown,
    of,
    loggers: () => byLogger,
    async restore(store) {
      const text = await store.state(STATE_NAME);
      if (text === undefined) return;
      const kept = JSON.parse(text) as Record<'total' | 'unknown', unknown> & { loggers?: Record<string, unknown> };
      add(total, kept.total);
      add(unknown, kept.unknown);
      for (const [loggerId, counters] of Object.entries(kept.loggers ?? {})) add(of(loggerId), counters);
    },
    async save(store) {
      const text = JSON.stringify({ total, unknown, loggers: Object.fromEntries(byLogger) }, (key, value: unknown) =>
        key === 'waiting' ? undefined : value,
      );
      if (text === savedAs) return;
      await store.putState(STATE_NAME, text);
      savedAs = text;
    },
  };
}

function nought(): IntakeCounters {
  return { messages: 0, stored: 0, duplicate: 0, conflict: 0, erased: 0, refused: 0, waiting: 0 };
}

function add(into: IntakeCounters, kept: unknown): void {
  if (typeof kept !== 'object' || kept === null) return;
  for (const name of COUNTED) {
    const count = (kept as Record<string, unknown>)[name];
    if (typeof count === 'number' && Number.isSafeInteger(count)) into[name] += count;
  }
}

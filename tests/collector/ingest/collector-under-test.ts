import { type Collector, createCollector } from '../../../collector/collector.ts';
import type { IncomingMessage } from '../../../collector/ingest/accept-message.ts';
import type { Clock } from '../../../collector/model/clock.ts';
import type { Log } from '../../../collector/ports.ts';
import { type MemoryStore, memoryStore } from './memory-store.ts';

/** Monday 2026-05-04, an hour's middle. */
export const NOON_MS = Date.UTC(2026, 4, 4, 12, 30);

export interface TestClock extends Clock {
  set(atMs: number): void;
}

export function testClock(atMs = NOON_MS): TestClock {
  let now = atMs;
  return { nowMs: () => now, every: () => () => undefined, set: (next) => (now = next) };
}

/** The machine's own clock, for tests through real sockets. */
export const wallClock: Clock = { nowMs: () => Date.now(), every: () => () => undefined };

export interface LogLine {
  readonly level: 'info' | 'warn' | 'error';
  readonly fields: Record<string, unknown>;
  readonly message: string;
}

export function testLog(): Log & { readonly lines: LogLine[] } {
  const lines: LogLine[] = [];
  const line = (level: LogLine['level']) => (fields: object, message: string) =>
    void lines.push({ level, fields: fields as Record<string, unknown>, message });
  return { lines, info: line('info'), warn: line('warn'), error: line('error') };
}

export function collectorOver(store: MemoryStore = memoryStore('front-hall'), clock: Clock = testClock()): Collector {
  return createCollector({ store, clock, log: testLog() });
}

export function message(
  topic: string,
  payload: string | Uint8Array,
  more: Partial<IncomingMessage> = {},
): IncomingMessage {
  return {
    topic,
    payload: typeof payload === 'string' ? Buffer.from(payload) : payload,
    qos: 1,
    duplicate: false,
    retainedDelivery: false,
    arrivedMs: NOON_MS,
    ...more,
  };
}

/** Resolves when `holds` does; a condition, so that nothing sleeps for a fixed time. */
export async function until(holds: () => boolean | Promise<boolean>, what: string, withinMs = 20_000): Promise<void> {
  const end = performance.now() + withinMs;
  while (!(await holds())) {
    if (performance.now() > end) throw new Error(`waited in vain for: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

import type { Collector } from '../../collector/collector.ts';
import type { Clock } from '../../collector/model/clock.ts';
import type { Store } from '../../collector/store/port.ts';
import { createLoggerKey, hashLoggerKey } from '../access/logger-key.ts';

/** The invented houses, given by the composition: the server itself knows no simulator. */
export interface DemoParts {
  demoProperties(): readonly { readonly loggers: readonly { readonly id: string }[] }[];
  writeDemoHistory(
    store: Store,
    nowMs: number,
    onProgress: (share: number) => void,
    signal: AbortSignal,
  ): Promise<{ readonly plannedAtMs: number; readonly endMs: number; readonly written: boolean }>;
  startDemoLoggers(options: {
    readonly brokerUrl: string;
    readonly loggers: readonly { readonly id: string; readonly key: string }[];
    readonly nowMs: number;
    readonly clock: Clock;
    readonly plannedAtMs: number;
    readonly continueFromMs?: number | undefined;
  }): Promise<{ stop(): Promise<void> }>;
}

export interface RunningDemo {
  /** Resolves when the history is written and the loggers publish. */
  readonly done: Promise<void>;
  isStopped(): boolean;
  stop(): Promise<void>;
}

/** Writes the demo's history, then lets its loggers publish through the broker as any other. */
export function runDemo(needs: {
  parts: () => Promise<DemoParts>;
  store: Store;
  collector: Pick<Collector, 'forget'>;
  clock: Clock;
  brokerUrl: string;
  /** Share of the history that is written; 1 once the loggers publish. */
  onProgress: (share: number) => void;
}): RunningDemo {
  const { store, collector, clock, brokerUrl, onProgress } = needs;
  const ending = new AbortController();
  let loggers: { stop(): Promise<void> } | undefined;

  async function run(): Promise<void> {
    const demo = await needs.parts();
    if (ending.signal.aborted) return;
    const unfinished = (share: number) => onProgress(Math.min(share, 0.999));
    const history = await demo.writeDemoHistory(store, clock.nowMs(), unfinished, ending.signal);
    const ids = demo.demoProperties().flatMap((property) => property.loggers.map((logger) => logger.id));
    const keys = await renewedKeys(ids);
    if (ending.signal.aborted) return;
    loggers = await demo.startDemoLoggers({
      brokerUrl,
      loggers: keys,
      nowMs: clock.nowMs(),
      clock,
      plannedAtMs: history.plannedAtMs,
      ...(history.written ? { continueFromMs: history.endMs } : {}),
    });
    onProgress(1);
  }

  /** New keys at each start, since none is kept. Whoever deleted a demo house doesn't want it back. */
  async function renewedKeys(ids: readonly string[]): Promise<{ id: string; key: string }[]> {
    const keys: { id: string; key: string }[] = [];
    for (const id of ids) {
      const logger = await store.logger(id);
      if (!logger || logger.hiddenMs !== undefined) continue;
      const key = createLoggerKey();
      await store.putLogger({ ...logger, keySha256: hashLoggerKey(key) });
      collector.forget(id);
      keys.push({ id, key });
    }
    return keys;
  }

  const done = run();
  return {
    done,
    isStopped: () => ending.signal.aborted,
    async stop() {
      ending.abort();
      await done.catch(() => undefined);
      await loggers?.stop();
    },
  };
}

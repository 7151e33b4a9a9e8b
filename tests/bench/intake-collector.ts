import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { systemClock } from '../../api/system-clock.ts';
import { type Collector, createCollector } from '../../collector/collector.ts';
import type { Log } from '../../collector/ports.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { benchLogger } from './intake-publisher.ts';

export const silent: Log = { info() {}, warn() {}, error() {} };

/** A collector over a new store in a folder of its own, with as many loggers as will publish. */
export async function collectorWithLoggers(loggers: number): Promise<{ collector: Collector; end(): Promise<void> }> {
  const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-intake-'));
  const store = await openSqliteStore({ folder, clock: systemClock });
  for (let client = 0; client < loggers; client++) {
    const id = benchLogger(client);
    await store.putLogger({ id, createdMs: Date.now(), keySha256: '0'.repeat(64) });
    await store.addChannelSetting({ loggerId: id, channel: 'pressure', fromMs: 0, unit: 'bar' });
  }
  const collector = createCollector({ store, clock: systemClock, log: silent });
  return {
    collector,
    async end() {
      await collector.stop();
      await store.close();
      rmSync(folder, { recursive: true });
    },
  };
}

/** Resolves when the collector has stored so many samples in all. */
export function untilStored(collector: Collector, samples: number): Promise<void> {
  return new Promise((resolve) => {
    const stop = collector.onStored(() => {
      if (collector.counters().total.stored < samples) return;
      stop();
      resolve();
    });
  });
}

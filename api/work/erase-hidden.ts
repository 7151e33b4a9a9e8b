import type { EpochMs } from '../../collector/model/units.ts';
import type { Log } from '../../collector/ports.ts';
import type { Store } from '../../collector/store/port.ts';

/** What was deleted can be shown again for this long. */
export const HIDDEN_FOR_MS = 30 * 24 * 3600_000;

/** Erases sites and loggers that were hidden thirty days ago. */
export async function eraseHidden(store: Store, nowMs: EpochMs, log: Log): Promise<void> {
  const due = (entry: { hiddenMs?: EpochMs | undefined }) =>
    entry.hiddenMs !== undefined && nowMs - entry.hiddenMs >= HIDDEN_FOR_MS;
  for (const site of (await store.sites({ includeHidden: true })).filter(due)) {
    await store.eraseSite(site.id);
    log.info({ site: site.id }, 'a site hidden for thirty days was erased');
  }
  for (const logger of (await store.loggers({ includeHidden: true })).filter(due)) {
    await store.eraseLogger(logger.id);
    log.info({ logger: logger.id }, 'a logger hidden for thirty days was erased');
  }
}

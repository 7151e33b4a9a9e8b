import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { Placement } from '../../collector/model/logger.ts';
import type { Site } from '../../collector/model/site.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';
import type { SiteResource } from '../contract/payloads.ts';
import { recordedExtent } from '../work/record-sources.ts';
import { clipStretch, recordStretches } from '../work/record-stretch.ts';
import { shownPumpAndFitting } from './pump-and-fitting.ts';

/** A site as the API shows it, with the loggers that are there now and the extent of what was recorded there. */
export async function siteResource(store: Store, site: Site, nowMs: EpochMs): Promise<SiteResource> {
  const loggerIds = [...new Set((await store.placementsAt(site.id)).map((placement) => placement.loggerId))];
  const here: { id: string; position: Placement['position'] }[] = [];
  let first = Number.POSITIVE_INFINITY;
  let last = Number.NEGATIVE_INFINITY;
  for (const id of loggerIds) {
    const stretches = recordStretches(await store.placements(id));
    const now = stretches.find((stretch) => stretch.fromMs <= nowMs && nowMs < stretch.toMs);
    const logger = await store.logger(id);
    if (now?.siteId === site.id && logger && logger.hiddenMs === undefined) here.push({ id, position: now.position });
    const extent = await recordedExtent(store, id);
    if (!extent) continue;
    for (const stretch of stretches) {
      const part = stretch.siteId === site.id ? clipStretch(stretch, extent.firstMs, extent.lastMs + 1) : undefined;
      if (!part) continue;
      first = Math.min(first, part.fromMs);
      last = Math.max(last, part.toMs - 1);
    }
  }
  return {
    id: site.id,
    name: site.name,
    timeZone: site.timeZone,
    created: formatRfc3339(site.createdMs),
    thresholds: { ...site.thresholds },
    keepRawDays: site.keepRawDays ?? null,
    ...shownPumpAndFitting(site),
    invented: site.invented,
    hidden: site.hiddenMs === undefined ? null : formatRfc3339(site.hiddenMs),
    loggers: here.sort((a, b) => a.id.localeCompare(b.id)),
    first: Number.isFinite(first) ? formatRfc3339(first) : null,
    last: Number.isFinite(last) ? formatRfc3339(last) : null,
  };
}

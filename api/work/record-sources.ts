import type { Channel } from '../../collector/model/channel.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';
import type { RecordSources } from './assemble-analysis.ts';
import { clipStretch, type RecordStretch, recordStretches } from './record-stretch.ts';

/**
 * Finds what belongs to a stay: its site and settings, and which logger's flow, pump state and inlet pressure go with
 * it. Its own channels come first; else those of another logger that was in the same house then.
 */
export async function recordSources(store: Store, stretch: RecordStretch): Promise<RecordSources> {
  const { loggerId, siteId } = stretch;
  const site = siteId === undefined ? undefined : await store.site(siteId);
  const neighbours = siteId === undefined ? [] : await staysAt(store, siteId, stretch.fromMs, stretch.toMs);
  const others = neighbours.filter((stay) => stay.loggerId !== loggerId);
  const recorder = async (channel: Channel) => {
    if (await store.extent(loggerId, channel)) return loggerId;
    for (const other of others) if (await store.extent(other.loggerId, channel)) return other.loggerId;
    return undefined;
  };
  const beforePump =
    stretch.position === 'pump_outlet' ? others.filter((other) => other.position === 'pump_inlet') : [];
  const inletLogger = beforePump[0]?.loggerId;
  const base = (await recordedExtent(store, loggerId))?.of ?? 'pressure';
  const erased = await store.erasedSpans(loggerId, base, stretch.fromMs, stretch.toMs);
  return {
    stretch,
    site,
    rawErased: erased.map(({ fromMs, toMs }) => ({
      fromMs: Math.max(fromMs, stretch.fromMs),
      toMs: Math.min(toMs, stretch.toMs),
    })),
    settings: await store.channelSettings(loggerId),
    calibrations: await store.calibrations(loggerId),
    flowLogger: await recorder('flow'),
    pumpLogger: await recorder('pump'),
    inletLogger,
    inletStays: beforePump
      .filter((other) => other.loggerId === inletLogger)
      .sort((a, b) => a.fromMs - b.fromMs)
      // One that lasts as long as what was asked for goes on: a log that grows keeps the same sources.
      .map((stay) => (stay.toMs < stretch.toMs ? stay : { ...stay, toMs: Number.POSITIVE_INFINITY })),
    inletSettings: inletLogger === undefined ? [] : await store.channelSettings(inletLogger),
  };
}

/** All stays at a site that touch [fromMs, toMs), clipped to it. */
export async function staysAt(store: Store, siteId: string, fromMs: EpochMs, toMs: EpochMs): Promise<RecordStretch[]> {
  const loggerIds = [...new Set((await store.placementsAt(siteId)).map((placement) => placement.loggerId))];
  const all = await Promise.all(loggerIds.map(async (id) => recordStretches(await store.placements(id))));
  return all
    .flat()
    .filter((stretch) => stretch.siteId === siteId)
    .flatMap((stretch) => clipStretch(stretch, fromMs, toMs) ?? []);
}

/** First and last sample of a logger's pressure; where it has none, of its pump channel, else of its flow. */
export async function recordedExtent(
  store: Store,
  loggerId: string,
): Promise<{ firstMs: EpochMs; lastMs: EpochMs; of: Channel } | undefined> {
  for (const channel of ['pressure', 'pump', 'flow'] as const) {
    const extent = await store.extent(loggerId, channel);
    if (extent) return { firstMs: extent.firstMs, lastMs: extent.lastMs, of: channel };
  }
  return undefined;
}

import { settingInForce } from '../../collector/ingest/accept-message.ts';
import { escapeControls, shownTopic } from '../../collector/ingest/excerpt.ts';
import type { AcceptedEntry } from '../../collector/ingest/payload-entry.ts';
import { type MappedReader, mappedReader } from '../../collector/ingest/read-mapped.ts';
import { CANONICAL_UNIT } from '../../collector/model/channel.ts';
import { type DeviceMapping, overlappingLogger } from '../../collector/model/device-mapping.ts';
import { formatRfc3339 } from '../../collector/model/instant.ts';
import { interpretations } from '../../collector/model/interpretation.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import { Problem } from '../../collector/model/problem.ts';
import { filterMatches } from '../../collector/model/topic-filter.ts';
import { applyMap, type EpochMs, toNineSignificantDigits } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';
import { TRIAL_ENTRIES_SHOWN } from '../contract/mapping-payloads.ts';
import type { MappingTrialResponse } from '../contract/payloads.ts';
import type { Handlers } from './handlers.ts';
import { knownLogger } from './known-resources.ts';

/** Refuses a filter under which another logger's messages come too, hidden loggers' included: they may be shown again. */
export async function mappingIsFree(
  store: Pick<Store, 'loggers'>,
  loggerId: string,
  mapping: DeviceMapping | null | undefined,
): Promise<void> {
  if (!mapping) return;
  const other = overlappingLogger(loggerId, mapping.filter, await store.loggers({ includeHidden: true }));
  if (other)
    throw new Problem(
      'filter_taken',
      `A message could come under ${mapping.filter} and also under ${other.mapping!.filter}, the filter of the logger ${other.id}${other.hiddenMs === undefined ? '' : ', which is hidden'}`,
      'Name a filter that only this device publishes under, or change that of the other logger',
    );
}

/** What a mapping would make of messages, before it is saved. */
export function mappingHandlers(needs: { readonly store: Store; nowMs(): EpochMs }): Pick<Handlers, 'tryMapping'> {
  const { store, nowMs } = needs;
  return {
    async tryMapping({ params, body }) {
      const { id } = await knownLogger(store, params.id);
      await mappingIsFree(store, id, body.mapping);
      const [settings, calibrations] = await Promise.all([store.channelSettings(id), store.calibrations(id)]);
      const read = mappedReader(body.mapping);
      const arrivedMs = nowMs();
      return {
        messages: body.messages.map((message) => {
          if (!filterMatches(body.mapping.filter, message.topic)) return unmatched(message.topic);
          return trialOf(message, read, arrivedMs, (entry) => readingOf(entry, arrivedMs, settings, calibrations));
        }),
      };
    },
  };
}

type TrialMessage = MappingTrialResponse['messages'][number];
type TrialReading = TrialMessage['readings'][number];

function unmatched(topic: string): TrialMessage {
  return { topic: shownTopic(topic), matches: false, readings: [], readingCount: 0, refused: [], refusedCount: 0 };
}

function trialOf(
  message: { readonly topic: string; readonly payload: string },
  read: MappedReader,
  arrivedMs: EpochMs,
  shown: (entry: AcceptedEntry) => TrialReading,
): TrialMessage {
  const { accepted, refused } = read(new TextEncoder().encode(message.payload), arrivedMs);
  return {
    topic: shownTopic(message.topic),
    matches: true,
    readings: accepted.slice(0, TRIAL_ENTRIES_SHOWN).map(shown),
    readingCount: accepted.length,
    refused: refused
      .slice(0, TRIAL_ENTRIES_SHOWN)
      .map(({ index, reason }) => ({ index: index ?? null, reason: escapeControls(reason) })),
    refusedCount: refused.length,
  };
}

function readingOf(
  entry: AcceptedEntry,
  arrivedMs: EpochMs,
  settings: readonly ChannelSetting[],
  calibrations: readonly Calibration[],
): TrialReading {
  const { channel, value } = entry;
  const atMs = entry.atMs ?? arrivedMs;
  const unit = settingInForce(settings, channel, arrivedMs)?.unit ?? CANONICAL_UNIT[channel];
  const stretches = interpretations(channel, unit, settings, calibrations);
  const map = stretches.filter((stretch) => stretch.fromMs <= atMs).at(-1)?.map ?? stretches[0]?.map;
  return {
    channel,
    time: formatRfc3339(atMs),
    timeFrom: entry.atMs === undefined ? 'arrival' : 'message',
    value: map ? toNineSignificantDigits(applyMap(map, value)) : null,
    unit: CANONICAL_UNIT[channel],
    valueAsSent: value,
    unitAsSent: unit,
  };
}

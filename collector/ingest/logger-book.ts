import type { Channel } from '../model/channel.ts';
import type { ChannelSetting } from '../model/logger.ts';
import type { EpochMs } from '../model/units.ts';
import type { SampleReader, Settings } from '../store/port.ts';
import { type ChannelMemory, emptyChannelMemory } from './channel-memory.ts';

/** How long settings are used before they are looked up again: another process may have changed them. */
const KNOWN_FOR_MS = 30_000;
/** A name that isn't a logger's is asked for again after this. */
const UNKNOWN_FOR_MS = 2_000;
/** Names that are nobody's, remembered so that a stranger doesn't cost a look-up a message. */
const MAX_UNKNOWN = 1000;

/** A logger that exists, with what the way in remembers of it. */
export interface LoggerPage {
  readonly loggerId: string;
  settings: readonly ChannelSetting[];
  memory(channel: Channel): ChannelMemory;
  /** Readings that come from now on may be a buffer being emptied. */
  openWatch(atMs: EpochMs): void;
}

export type BookSource = Pick<Settings, 'logger' | 'channelSettings'> & Pick<SampleReader, 'latest'>;

export interface LoggerBook {
  /** The page at once where it is known, else a promise of it; undefined: no such logger (or a deleted one). */
  find(loggerId: string, nowMs: EpochMs): LoggerPage | undefined | Promise<LoggerPage | undefined>;
  /** Settings are looked up again at the next message. */
  forget(loggerId: string): void;
  openWatches(atMs: EpochMs): void;
}

interface Entry {
  page: KeptPage | undefined;
  validUntilMs: EpochMs;
  loading: Promise<LoggerPage | undefined> | undefined;
}

/** Which loggers exist and how their values are to be read, without a look-up in the store for every message. */
export function createLoggerBook(source: BookSource): LoggerBook {
  const known = new Map<string, Entry>();
  const unknown = new Map<string, EpochMs>();
  let watchSinceMs: EpochMs | undefined;

  async function load(loggerId: string, nowMs: EpochMs): Promise<LoggerPage | undefined> {
    const entry = known.get(loggerId);
    try {
      const logger = await source.logger(loggerId);
      if (logger === undefined || logger.hiddenMs !== undefined) {
        known.delete(loggerId);
        rememberUnknown(loggerId, nowMs);
        return undefined;
      }
      const settings = await source.channelSettings(loggerId);
      const page = entry?.page ?? (await openPage(source, loggerId, nowMs, watchSinceMs));
      page.settings = settings;
      known.set(loggerId, { page, validUntilMs: nowMs + KNOWN_FOR_MS, loading: undefined });
      return page;
    } catch (error) {
      if (entry) entry.loading = undefined;
      if (entry?.page === undefined) known.delete(loggerId);
      throw error;
    }
  }

  function rememberUnknown(loggerId: string, nowMs: EpochMs): void {
    unknown.set(loggerId, nowMs + UNKNOWN_FOR_MS);
    if (unknown.size > MAX_UNKNOWN) unknown.delete(unknown.keys().next().value!);
  }

  return {
    find(loggerId, nowMs) {
      const entry = known.get(loggerId);
      if (entry?.page && entry.validUntilMs > nowMs) return entry.page;
      if (entry?.loading) return entry.loading;
      const unknownUntil = unknown.get(loggerId);
      if (unknownUntil !== undefined) {
        if (unknownUntil > nowMs) return undefined;
        unknown.delete(loggerId);
      }
      const kept: Entry = entry ?? { page: undefined, validUntilMs: 0, loading: undefined };
      known.set(loggerId, kept);
      kept.loading = load(loggerId, nowMs);
      return kept.loading;
    },
    forget(loggerId) {
      unknown.delete(loggerId);
      const entry = known.get(loggerId);
      if (entry) entry.validUntilMs = Number.NEGATIVE_INFINITY;
    },
    openWatches(atMs) {
      watchSinceMs = atMs;
      for (const entry of known.values()) entry.page?.openWatch(atMs);
    },
  };
}

interface KeptPage extends LoggerPage {
  settings: readonly ChannelSetting[];
}

/** A first page starts from what is stored: a redelivery after a restart is still one, and a buffer may be waiting. */
async function openPage(
  source: BookSource,
  loggerId: string,
  nowMs: EpochMs,
  watchSinceMs: EpochMs | undefined,
): Promise<KeptPage> {
  const memories = new Map<Channel, ChannelMemory>();
  const latest = await source.latest([loggerId]);
  for (const sample of latest) {
    const memory = emptyChannelMemory();
    memory.lastTimelessValue = sample.value;
    // Stamps may have run ahead of the clock in a burst; a time far ahead is the logger's own and no stamp.
    if (sample.atMs < nowMs + 60_000) memory.lastStampMs = sample.atMs;
    if (watchSinceMs !== undefined) memory.watch = { sinceMs: watchSinceMs, seen: 0 };
    memories.set(sample.channel, memory);
  }
  return {
    loggerId,
    settings: [],
    memory(channel) {
      let memory = memories.get(channel);
      if (memory === undefined) {
        memory = emptyChannelMemory();
        memories.set(channel, memory);
      }
      return memory;
    },
    openWatch(atMs) {
      for (const memory of memories.values()) memory.watch = { sinceMs: atMs, seen: 0 };
    },
  };
}

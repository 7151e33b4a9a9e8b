import type { DeviceMapping } from '../model/device-mapping.ts';
import type { Logger } from '../model/logger.ts';
import { filterMatches } from '../model/topic-filter.ts';
import { type MappedReader, mappedReader } from './read-mapped.ts';

/** A logger that a topic outside our own form belongs to, and how its messages are read. */
export interface MappedLogger {
  readonly loggerId: string;
  readonly filter: string;
  readonly read: MappedReader;
}

/** Which devices publish under topics of their own. Filters don't overlap: that is checked before one is saved. */
export interface MappingBook {
  /** The logger under whose filter the topic lies. */
  find(topic: string): MappedLogger | undefined;
  /** Its own filter, where it has one. */
  filterOf(loggerId: string): string | undefined;
  filters(): string[];
  /** Takes a logger as it is now; undefined: there is none of that name any more. */
  set(loggerId: string, logger: Pick<Logger, 'mapping' | 'hiddenMs'> | undefined): void;
  /** Told after the set of filters has changed. */
  onFilters(listener: () => void): () => void;
  /** What a broker said of a subscription to a filter; undefined: it granted it. */
  granted(filter: string, refusal: string | undefined): void;
  /** Why no message can come under the filter. */
  refusalOf(filter: string): string | undefined;
}

export function createMappingBook(loggers: readonly Logger[] = []): MappingBook {
  const byLogger = new Map<string, MappedLogger & { readonly mapping: DeviceMapping }>();
  /** Filters without wildcards, the common case, are found without walking through all. */
  const exact = new Map<string, MappedLogger>();
  const wild = new Map<string, MappedLogger>();
  const refusals = new Map<string, string>();
  const listeners = new Set<() => void>();

  function set(loggerId: string, logger: Pick<Logger, 'mapping' | 'hiddenMs'> | undefined): void {
    const before = byLogger.get(loggerId);
    const mapping = logger?.hiddenMs === undefined ? logger?.mapping : undefined;
    if (before && mapping && JSON.stringify(before.mapping) === JSON.stringify(mapping)) return;
    if (before) {
      byLogger.delete(loggerId);
      exact.delete(before.filter);
      wild.delete(before.filter);
    }
    if (mapping) {
      const { filter } = mapping;
      const entry = { loggerId, filter, mapping, read: mappedReader(mapping) };
      byLogger.set(loggerId, entry);
      (/[+#]/.test(filter) ? wild : exact).set(filter, entry);
    }
    if (before?.filter === mapping?.filter) return;
    if (before) refusals.delete(before.filter);
    for (const listener of listeners) listener();
  }

  for (const logger of loggers) set(logger.id, logger);
  return {
    find(topic) {
      const plain = exact.get(topic);
      if (plain) return plain;
      for (const [filter, entry] of wild) if (filterMatches(filter, topic)) return entry;
      return undefined;
    },
    filterOf: (loggerId) => byLogger.get(loggerId)?.filter,
    filters: () => [...exact.keys(), ...wild.keys()],
    set,
    onFilters(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    granted(filter, refusal) {
      if (refusal === undefined) refusals.delete(filter);
      else refusals.set(filter, refusal);
    },
    refusalOf: (filter) => refusals.get(filter),
  };
}

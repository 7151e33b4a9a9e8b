import type { Calibration, ChannelSetting, Logger, Placement } from '../../model/logger.ts';
import type { Site } from '../../model/site.ts';
import { LOGGER_STATES, loggerState, type Settings } from '../port.ts';
import type { SqliteDatabase } from './open-database.ts';
import { createSettingsMemory, isKept, type KeptKind } from './settings-memory.ts';

/** What the eraser needs, to be called within its transaction. */
export interface SettingsInTransaction {
  allSites(): Site[];
  /** Placements of every logger that has any. */
  allPlacements(): Map<string, Placement[]>;
  placementsOf(loggerId: string): Placement[];
  /** Loggers that were ever placed at the site. */
  loggersOnceAt(siteId: string): string[];
  /** The site's own document and the placements at it. */
  removeSite(siteId: string): void;
  /** Everything that was set for the logger. */
  removeLogger(loggerId: string): void;
}

type Kind = KeptKind | 'state';

/** Settings as documents under (kind, id, channel, from): they are few, read whole, and their shapes grow. */
export function createSettings(database: SqliteDatabase): {
  port: Omit<Settings, 'eraseSite' | 'eraseLogger'>;
  inTransaction: SettingsInTransaction;
  /** Drops what is remembered: a transaction may have been rolled back. */
  forget(): void;
} {
  const selectKind = database.prepare('select document from setting where kind = ? order by id, from_ms').pluck();
  const selectOf = database
    .prepare('select document from setting where kind = ? and id = ? order by channel, from_ms')
    .pluck();
  const replace = database.prepare(
    'insert or replace into setting (kind, id, channel, from_ms, document) values (?,?,?,?,?)',
  );
  const removeOf = database.prepare('delete from setting where kind = ? and id = ?');
  const removeEntry = database.prepare('delete from setting where kind = ? and id = ? and from_ms = ?');

  const parse = <Document>(texts: unknown[]) => texts.map((text) => JSON.parse(text as string) as Document);
  const readAll = (kind: Kind) => parse<{ id?: string; loggerId?: string }>(selectKind.all(kind));
  const readOf = (kind: Kind, id: string) => parse<object>(selectOf.all(kind, id));
  // Only this connection writes, so what it has read stays true until it writes; a reader beside it reads every time.
  const kept = database.readonly ? undefined : createSettingsMemory(readAll, readOf);
  const all = <Document>(kind: Kind) => (kept && isKept(kind) ? kept.all(kind) : readAll(kind)) as Document[];
  const of = <Document>(kind: Kind, id: string) =>
    (kept && isKept(kind) ? kept.of(kind, id) : readOf(kind, id)) as Document[];
  /** Entries that have no channel or no date of their own stand under '' and 0. */
  function put(kind: Kind, id: string, document: unknown, channel = '', fromMs = 0): void {
    replace.run(kind, id, channel, fromMs, JSON.stringify(document));
    if (kept && isKept(kind)) kept.changed(kind, id);
  }
  const placementsAt = (siteId: string) =>
    (kept?.placementsAt(siteId) ?? all<Placement>('placement').filter((placement) => placement.siteId === siteId))
      .slice()
      .sort((a, b) => a.fromMs - b.fromMs);

  return {
    port: {
      sites: async (options) => visible(all<Site>('site'), options),
      site: async (id) => of<Site>('site', id)[0],
      putSite: async (site) => put('site', site.id, site),
      loggers: async (options) => visible(all<Logger>('logger'), options),
      logger: async (id) => of<Logger>('logger', id)[0],
      putLogger: async (logger) => put('logger', logger.id, logger),
      placements: async (loggerId) => of<Placement>('placement', loggerId),
      placementsAt: async (siteId) => placementsAt(siteId),
      addPlacement: async (entry) => put('placement', entry.loggerId, entry, '', entry.fromMs),
      channelSettings: async (loggerId) => of<ChannelSetting>('channel', loggerId),
      addChannelSetting: async (entry) => put('channel', entry.loggerId, entry, entry.channel, entry.fromMs),
      calibrations: async (loggerId) => of<Calibration>('calibration', loggerId),
      addCalibration: async (entry) => put('calibration', entry.loggerId, entry, entry.channel, entry.fromMs),
      state: async (name) => of<string>('state', name)[0],
      putState: async (name, value) => put('state', name, value),
    },
    forget: () => kept?.forget(),
    inTransaction: {
      allSites: () => all<Site>('site'),
      allPlacements() {
        const byLogger = new Map<string, Placement[]>();
        for (const placement of all<Placement>('placement')) {
          const known = byLogger.get(placement.loggerId);
          if (known) known.push(placement);
          else byLogger.set(placement.loggerId, [placement]);
        }
        return byLogger;
      },
      placementsOf: (loggerId) => of<Placement>('placement', loggerId),
      loggersOnceAt: (siteId) => [...new Set(placementsAt(siteId).map((placement) => placement.loggerId))],
      removeSite(siteId) {
        for (const { loggerId, fromMs } of placementsAt(siteId)) removeEntry.run('placement', loggerId, fromMs);
        removeOf.run('site', siteId);
        kept?.forget();
      },
      removeLogger(loggerId) {
        for (const kind of ['placement', 'channel', 'calibration', 'logger'] as const) removeOf.run(kind, loggerId);
        for (const what of LOGGER_STATES) removeOf.run('state', loggerState(loggerId, what));
        kept?.forget();
      },
    },
  };
}

function visible<Item extends { readonly hiddenMs?: number | undefined }>(
  items: readonly Item[],
  options: { includeHidden?: boolean } | undefined,
): Item[] {
  return items.filter((item) => options?.includeHidden || item.hiddenMs === undefined);
}

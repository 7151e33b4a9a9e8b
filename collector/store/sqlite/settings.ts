import type { Calibration, ChannelSetting, Logger, Placement } from '../../model/logger.ts';
import type { Site } from '../../model/site.ts';
import type { Settings } from '../port.ts';
import type { SqliteDatabase } from './open-database.ts';

export type SqliteSettings = Omit<Settings, 'eraseSite' | 'eraseLogger'> & {
  /** Within the caller's transaction: the site's own row and its placements. */
  removeSite(id: string): void;
  /** Within the caller's transaction: everything that was set for the logger. */
  removeLogger(id: string): void;
  /** For the eraser, which works in one go. */
  placementsAtOnce(loggerId: string): Placement[];
  loggersOnceAt(siteId: string): string[];
};

/** Settings as documents under their keys: they are few, read whole, and their shapes grow. */
export function createSettings(database: SqliteDatabase): SqliteSettings {
  const list = <Item>(sql: string) => {
    const statement = database.prepare(sql).pluck();
    return (...parameters: unknown[]) =>
      (statement.all(...parameters) as string[]).map((text) => JSON.parse(text) as Item);
  };
  const allSites = list<Site>('select document from site order by id');
  const oneSite = list<Site>('select document from site where id = ?');
  const putSite = database.prepare('insert or replace into site (id, document) values (?,?)');
  const allLoggers = list<Logger>('select document from logger order by id');
  const oneLogger = list<Logger>('select document from logger where id = ?');
  const putLogger = database.prepare('insert or replace into logger (id, document) values (?,?)');
  const placementsOf = list<Placement>('select document from placement where logger_id = ? order by from_ms');
  const placementsAt = list<Placement>('select document from placement where site_id = ? order by from_ms, logger_id');
  const loggersAt = database.prepare('select distinct logger_id from placement where site_id = ?').pluck();
  const addPlacement = database.prepare(
    'insert or replace into placement (logger_id, from_ms, site_id, document) values (?,?,?,?)',
  );
  const settingsOf = list<ChannelSetting>(
    'select document from channel_setting where logger_id = ? order by channel, from_ms',
  );
  const addSetting = database.prepare(
    'insert or replace into channel_setting (logger_id, channel, from_ms, document) values (?,?,?,?)',
  );
  const calibrationsOf = list<Calibration>(
    'select document from calibration where logger_id = ? order by channel, from_ms',
  );
  const addCalibration = database.prepare(
    'insert or replace into calibration (logger_id, channel, from_ms, document) values (?,?,?,?)',
  );
  const readState = database.prepare('select value from state where name = ?').pluck();
  const writeState = database.prepare('insert or replace into state (name, value) values (?,?)');
  const removals = (sql: readonly string[]) => sql.map((text) => database.prepare(text));
  const removalsOfSite = removals(['delete from placement where site_id = ?', 'delete from site where id = ?']);
  const removalsOfLogger = removals([
    'delete from placement where logger_id = ?',
    'delete from channel_setting where logger_id = ?',
    'delete from calibration where logger_id = ?',
    'delete from refusal where logger_id = ?',
    'delete from refusal_count where logger_id = ?',
    'delete from logger where id = ?',
  ]);

  return {
    async sites(options) {
      return allSites().filter((site) => options?.includeHidden || site.hiddenMs === undefined);
    },
    async site(id) {
      return oneSite(id)[0];
    },
    async putSite(site) {
      putSite.run(site.id, JSON.stringify(site));
    },
    async loggers(options) {
      return allLoggers().filter((logger) => options?.includeHidden || logger.hiddenMs === undefined);
    },
    async logger(id) {
      return oneLogger(id)[0];
    },
    async putLogger(logger) {
      putLogger.run(logger.id, JSON.stringify(logger));
    },
    async placements(loggerId) {
      return placementsOf(loggerId);
    },
    async placementsAt(siteId) {
      return placementsAt(siteId);
    },
    async addPlacement(placement) {
      const { loggerId, fromMs, siteId } = placement;
      addPlacement.run(loggerId, fromMs, siteId ?? null, JSON.stringify(placement));
    },
    async channelSettings(loggerId) {
      return settingsOf(loggerId);
    },
    async addChannelSetting(setting) {
      addSetting.run(setting.loggerId, setting.channel, setting.fromMs, JSON.stringify(setting));
    },
    async calibrations(loggerId) {
      return calibrationsOf(loggerId);
    },
    async addCalibration(calibration) {
      addCalibration.run(calibration.loggerId, calibration.channel, calibration.fromMs, JSON.stringify(calibration));
    },
    async state(name) {
      return readState.get(name) as string | undefined;
    },
    async putState(name, value) {
      writeState.run(name, value);
    },
    removeSite(id) {
      for (const statement of removalsOfSite) statement.run(id);
    },
    removeLogger(id) {
      for (const statement of removalsOfLogger) statement.run(id);
    },
    placementsAtOnce: (loggerId) => placementsOf(loggerId),
    loggersOnceAt: (siteId) => loggersAt.all(siteId) as string[],
  };
}

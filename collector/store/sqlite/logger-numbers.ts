import type { SqliteDatabase } from './open-database.ts';

/** Logger names as small numbers, which is what rows are keyed by. */
export interface LoggerNumbers {
  /** The number of a logger, given at its first sample. Call inside a transaction that writes. */
  assign(loggerId: string): number;
  /** The number, or undefined where nothing was ever stored for the logger. */
  find(loggerId: string): number | undefined;
  /** All of them: number and name. */
  names(): [number, string][];
  /** Drops what is remembered: after a rolled back transaction a number may have gone. */
  forget(): void;
}

export function createLoggerNumbers(database: SqliteDatabase): LoggerNumbers {
  const known = new Map<string, number>();
  const select = database.prepare<[string], number>('select number from logger_number where id = ?').pluck();
  const all = database.prepare('select number, id from logger_number').raw();
  const insert = database.prepare<[string]>('insert into logger_number (id) values (?)');

  function find(loggerId: string): number | undefined {
    const remembered = known.get(loggerId);
    if (remembered !== undefined) return remembered;
    const stored = select.get(loggerId) as number | undefined;
    if (stored !== undefined) known.set(loggerId, stored);
    return stored;
  }

  return {
    find,
    assign(loggerId) {
      const found = find(loggerId);
      if (found !== undefined) return found;
      const number = Number(insert.run(loggerId).lastInsertRowid);
      known.set(loggerId, number);
      return number;
    },
    names: () => all.all() as [number, string][],
    forget: () => known.clear(),
  };
}

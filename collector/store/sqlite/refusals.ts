import type { Refusal, RefusalLog } from '../port.ts';
import type { SqliteDatabase } from './open-database.ts';

/** Refusals kept per known logger, and in the one list for unknown ones. */
export const REFUSALS_KEPT = 100;
/** Bounds on what a stranger can make us keep, in characters; 200 bytes escaped as \u00XX are at most 1,200. */
const LONGEST_TOPIC = 300;
const LONGEST_TEXT = 1200;
/** No logger can have this name, so it stands for all unknown ones. */
const UNKNOWN = '';

/** Refusals are numbered per logger from 1 on, so the newest number is also their count. */
export function createRefusalLog(database: SqliteDatabase): {
  port: RefusalLog;
  /** Within the caller's transaction. */
  remove(loggerId: string): void;
} {
  const insert = database.prepare(
    'insert into refusal (logger_id, number, topic, at_ms, reason, excerpt) values (?,?,?,?,?,?)',
  );
  const trim = database.prepare('delete from refusal where logger_id = ? and number <= ?');
  const remove = database.prepare('delete from refusal where logger_id = ?');
  const newest = database.prepare('select max(number) from refusal where logger_id = ?').pluck();
  const select = database.prepare(
    'select topic, at_ms, reason, excerpt from refusal where logger_id = ? order by number desc',
  );
  const countOf = (name: string) => (newest.get(name) as number | null) ?? 0;

  const add = database.transaction((refusals: readonly Refusal[]) => {
    const counts = new Map<string, number>();
    const numbered = refusals.map((refusal) => {
      const name = refusal.loggerId ?? UNKNOWN;
      const number = (counts.get(name) ?? countOf(name)) + (refusal.countedAs ?? 1);
      counts.set(name, number);
      return { ...refusal, name, number };
    });
    for (const { name, number, topic, atMs, reason, excerpt } of numbered) {
      // What would be trimmed again below isn't written first: a flood of refusals costs no more than the last of it.
      if (number <= counts.get(name)! - REFUSALS_KEPT) continue;
      insert.run(
        name,
        number,
        topic.slice(0, LONGEST_TOPIC),
        atMs,
        reason.slice(0, LONGEST_TEXT),
        excerpt.slice(0, LONGEST_TEXT),
      );
    }
    for (const [name, number] of counts) trim.run(name, number - REFUSALS_KEPT);
  });

  return {
    port: {
      async addRefusals(refusals) {
        if (refusals.length > 0) add.immediate(refusals);
      },
      /** The newest first. */
      async refusals(loggerId) {
        const rows = select.all(loggerId ?? UNKNOWN) as RefusalRow[];
        return rows.map(({ topic, at_ms: atMs, reason, excerpt }) => ({ loggerId, topic, atMs, reason, excerpt }));
      },
      async refusalCount(loggerId) {
        return countOf(loggerId ?? UNKNOWN);
      },
    },
    remove: (loggerId) => void remove.run(loggerId),
  };
}

interface RefusalRow {
  readonly topic: string;
  readonly at_ms: number;
  readonly reason: string;
  readonly excerpt: string;
}

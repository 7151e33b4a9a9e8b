import type { Refusal, RefusalLog } from '../port.ts';
import type { SqliteDatabase } from './open-database.ts';

/** Refusals kept per known logger, and in the one list for unknown ones. */
export const REFUSALS_KEPT = 100;
/** Bounds on what a stranger can make us keep, in characters; 200 bytes escaped as \u00XX are at most 1,200. */
const LONGEST_TOPIC = 300;
const LONGEST_EXCERPT = 1200;

export function createRefusalLog(database: SqliteDatabase): RefusalLog {
  const insert = database.prepare('insert into refusal (logger_id, topic, at_ms, reason, excerpt) values (?,?,?,?,?)');
  const trim = database.prepare(
    `delete from refusal where logger_id is @id and number <=
       (select number from refusal where logger_id is @id order by number desc limit 1 offset ${REFUSALS_KEPT})`,
  );
  const raise = database.prepare(
    `insert into refusal_count (logger_id, count) values (?, ?)
     on conflict (logger_id) do update set count = count + excluded.count`,
  );
  const select = database.prepare(
    'select topic, at_ms, reason, excerpt from refusal where logger_id is ? order by number desc',
  );
  const count = database.prepare('select count from refusal_count where logger_id = ?').pluck();
  /** No logger can have this name, so it stands for all unknown ones. */
  const countName = (loggerId: string | undefined) => loggerId ?? '';

  const add = database.transaction((refusals: readonly Refusal[]) => {
    const added = new Map<string | undefined, number>();
    for (const { loggerId, topic, atMs, reason, excerpt } of refusals) {
      added.set(loggerId, (added.get(loggerId) ?? 0) + 1);
      insert.run(
        loggerId ?? null,
        topic.slice(0, LONGEST_TOPIC),
        atMs,
        reason.slice(0, LONGEST_EXCERPT),
        excerpt.slice(0, LONGEST_EXCERPT),
      );
    }
    for (const [loggerId, number] of added) {
      raise.run(countName(loggerId), number);
      trim.run({ id: loggerId ?? null });
    }
  });

  return {
    async addRefusals(refusals) {
      if (refusals.length > 0) add.immediate(refusals);
    },
    /** The newest first. */
    async refusals(loggerId) {
      const rows = select.all(loggerId ?? null) as { topic: string; at_ms: number; reason: string; excerpt: string }[];
      return rows.map(({ topic, at_ms: atMs, reason, excerpt }) => ({ loggerId, topic, atMs, reason, excerpt }));
    },
    async refusalCount(loggerId) {
      return (count.get(countName(loggerId)) as number | undefined) ?? 0;
    },
  };
}

import { Problem } from '../../collector/model/problem.ts';
import type { Log } from '../../collector/ports.ts';

/** A part that does not end within this is left behind. */
const PART_ENDS_WITHIN_MS = 15_000;

/** What has been started and must end, in reverse order. */
export interface Endings {
  /**
   * A part was started. Where the end was asked for meanwhile it ends at once, and Problem `interrupted` keeps the start
   * from going on.
   */
  add(name: string, end: () => void | Promise<void>): void;
  /** Ends all parts, whatever state they are in; asked twice it is done once. Always resolves. */
  stop(): Promise<void>;
}

export function createEndings(log: Log): Endings {
  const parts: { name: string; end: () => void | Promise<void> }[] = [];
  let stopping: Promise<void> | undefined;

  async function stopAll(): Promise<void> {
    for (const { name, end } of parts.reverse()) {
      try {
        await withinLimit(Promise.resolve(end()), name);
      } catch (error) {
        log.error({ err: error, part: name }, 'a part did not end as it should');
      }
    }
  }

  return {
    add(name, end) {
      if (!stopping) return void parts.push({ name, end });
      Promise.resolve(end()).catch((error: unknown) => log.error({ err: error, part: name }, 'a part did not end'));
      throw new Problem('interrupted', 'The program was stopped while it started', 'Start it again');
    },
    stop() {
      stopping ??= stopAll();
      return stopping;
    },
  };
}

async function withinLimit(end: Promise<void>, name: string): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(
      () => reject(new Error(`${name} takes longer than ${PART_ENDS_WITHIN_MS} ms`)),
      PART_ENDS_WITHIN_MS,
    );
  });
  try {
    await Promise.race([end, late]);
  } finally {
    clearTimeout(timer);
  }
}

import { JsonBytes } from './handlers.ts';

/** What time alone changes (a logger that falls silent) is seen this late at most. */
const KEPT_MS = 5_000;

/**
 * The last list as it was sent. A fleet's is a megabyte, made from thousands of rows; pages ask for it again and again
 * while nothing has changed.
 */
export interface ListMemory {
  /** The list of `key`, made anew where the last one was of another key or is too old. */
  get(key: string, make: () => Promise<readonly unknown[]>): Promise<JsonBytes>;
}

export function createListMemory(nowMs: () => number): ListMemory {
  let kept: { readonly key: string; readonly atMs: number; readonly json: Promise<JsonBytes> } | undefined;
  return {
    get(key, make) {
      const atMs = nowMs();
      if (kept && kept.key === key && Math.abs(atMs - kept.atMs) < KEPT_MS) return kept.json;
      const json = make().then((list) => new JsonBytes(Buffer.from(JSON.stringify(list))));
      kept = { key, atMs, json };
      // A list that could not be made is asked for again.
      json.catch(() => {
        if (kept?.json === json) kept = undefined;
      });
      return json;
    },
  };
}

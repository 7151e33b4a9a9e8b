import { JsonBytes } from './handlers.ts';

/** What time alone changes (a logger that falls silent) is seen this late at most. */
const KEPT_MS = 5_000;
/** Below this a list costs nothing worth sparing: it is made anew for every new sample. */
const DEAR_MS = 50;
/** While samples pour in, a dear list may be as old as so many times its making, so that it takes a tenth of the time. */
const AGE_PER_MAKING = 10;

/** What a list was made from: another text means that it has changed. */
export interface ListRevision {
  /** Settings and states, which whoever changed them wants to see at once. */
  readonly settings: string;
  /** Samples, refusals, sealing. */
  readonly record: string;
}

/**
 * The last list as it was sent. A fleet's is a megabyte, made from thousands of rows; pages ask for it again and again
 * while nothing has changed, or nothing but that each logger has one sample more.
 */
export interface ListMemory {
  /** The list for `revision`, made anew where the last one was of another or is too old. */
  get(revision: ListRevision, make: () => Promise<readonly unknown[]>): Promise<JsonBytes>;
}

interface Kept extends ListRevision {
  readonly atMs: number;
  readonly json: Promise<JsonBytes>;
  /** Undefined while it is being made. */
  madeInMs: number | undefined;
}

export function createListMemory(nowMs: () => number): ListMemory {
  let kept: Kept | undefined;
  function isFresh(list: Kept, revision: ListRevision, atMs: number): boolean {
    const ageMs = Math.abs(atMs - list.atMs);
    if (list.settings !== revision.settings || ageMs >= KEPT_MS) return false;
    if (list.record === revision.record) return true;
    const { madeInMs } = list;
    return madeInMs !== undefined && madeInMs >= DEAR_MS && ageMs < AGE_PER_MAKING * madeInMs;
  }
  return {
    get(revision, make) {
      const atMs = nowMs();
      if (kept && isFresh(kept, revision, atMs)) return kept.json;
      const json = make().then((list) => new JsonBytes(Buffer.from(JSON.stringify(list))));
      const entry: Kept = { ...revision, atMs, json, madeInMs: undefined };
      kept = entry;
      json.then(
        () => {
          entry.madeInMs = nowMs() - atMs;
        },
        () => {
          // A list that could not be made is asked for again.
          if (kept === entry) kept = undefined;
        },
      );
      return json;
    },
  };
}

/** Bytes of findings kept; a week at one sample a second makes some 0.5 MB. */
const BYTES_LIMIT = 64 * 1024 * 1024;

/** Results by key, the least recently asked for dropped first; the same question asked twice at once is computed once. */
export interface FindingsCache {
  get(key: string, make: () => Promise<Uint8Array>): Promise<Uint8Array>;
  /** Lets go of an answer that a newer one has taken the place of. */
  drop(key: string): void;
}

export function createFindingsCache(bytesLimit: number = BYTES_LIMIT): FindingsCache {
  const kept = new Map<string, Uint8Array>();
  const underWay = new Map<string, Promise<Uint8Array>>();
  let bytes = 0;

  function keep(key: string, made: Uint8Array): void {
    if (made.byteLength > bytesLimit) return;
    kept.set(key, made);
    bytes += made.byteLength;
    for (const [oldest, value] of kept) {
      if (bytes <= bytesLimit) return;
      kept.delete(oldest);
      bytes -= value.byteLength;
    }
  }

  return {
    drop(key) {
      bytes -= kept.get(key)?.byteLength ?? 0;
      kept.delete(key);
    },
    get(key, make) {
      const found = kept.get(key);
      if (found) {
        kept.delete(key);
        kept.set(key, found);
        return Promise.resolve(found);
      }
      const running = underWay.get(key);
      if (running) return running;
      const made = make()
        .then((result) => {
          keep(key, result);
          return result;
        })
        .finally(() => underWay.delete(key));
      underWay.set(key, made);
      return made;
    },
  };
}

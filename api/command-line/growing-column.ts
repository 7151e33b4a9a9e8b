/** Numbers of one column while their count isn't known. */
export interface GrowingColumn {
  push(value: number): void;
  length(): number;
  /** All numbers in one array; the column is empty afterwards. */
  take(): Float64Array;
}

/** 8 MB: a year at 1 Hz then needs thirty pieces, and a file of ten rows no more than its share of one page. */
const CHUNK_LENGTH = 1 << 20;
const FIRST_LENGTH = 1 << 12;

/**
 * Chunks of Float64Array outside the JavaScript heap: growing copies nothing but the first small chunk, so reading
 * peaks at the data plus the one column that is being joined.
 */
export function createGrowingColumn(): GrowingColumn {
  let full: Float64Array[] = [];
  let chunk = new Float64Array(FIRST_LENGTH);
  let used = 0;
  return {
    push(value) {
      if (used === chunk.length) {
        if (chunk.length < CHUNK_LENGTH) {
          const larger = new Float64Array(chunk.length * 4);
          larger.set(chunk);
          chunk = larger;
        } else {
          full.push(chunk);
          chunk = new Float64Array(CHUNK_LENGTH);
          used = 0;
        }
      }
      chunk[used++] = value;
    },
    length: () => full.length * CHUNK_LENGTH + used,
    take() {
      const joined = new Float64Array(full.length * CHUNK_LENGTH + used);
      full.forEach((part, index) => {
        joined.set(part, index * CHUNK_LENGTH);
      });
      joined.set(chunk.subarray(0, used), full.length * CHUNK_LENGTH);
      full = [];
      chunk = new Float64Array(0);
      used = 0;
      return joined;
    },
  };
}

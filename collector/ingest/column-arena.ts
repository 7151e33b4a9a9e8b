/*
 * Short columns of many messages share a few large arrays: an array of its own costs more than the ten readings it
 * holds. Nothing is written twice, so what was handed out stays as it is; a large array lives as long as any column of
 * it does.
 */

/** Readings of one shared array: 64 kB of times and as much of values. */
const ARENA_SAMPLES = 8192;
/** Longer columns get arrays of their own. */
const LONGEST_SHARED = 512;

let arenaTimes = new Float64Array(0);
let arenaValues = new Float64Array(0);
let used = 0;

/** Copies the first `count` times and values into columns that nobody else writes. */
export function sampleColumns(
  times: Float64Array,
  values: Float64Array,
  count: number,
): { readonly timeMs: Float64Array; readonly value: Float64Array } {
  if (count > LONGEST_SHARED) return { timeMs: times.slice(0, count), value: values.slice(0, count) };
  if (used + count > arenaTimes.length) {
    arenaTimes = new Float64Array(ARENA_SAMPLES);
    arenaValues = new Float64Array(ARENA_SAMPLES);
    used = 0;
  }
  const start = used;
  used += count;
  for (let i = 0; i < count; i++) {
    arenaTimes[start + i] = times[i]!;
    arenaValues[start + i] = values[i]!;
  }
  return { timeMs: arenaTimes.subarray(start, used), value: arenaValues.subarray(start, used) };
}

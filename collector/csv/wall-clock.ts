import { utcOffsetMinutes } from '../model/local-time.ts';
import type { EpochMs } from '../model/units.ts';
import type { WallMs } from './time-cell.ts';

/** A stretch of wall time that a zone's clock shows twice, [from, to). */
export interface RepeatedSpan {
  readonly fromWallMs: WallMs;
  readonly toWallMs: WallMs;
}

/** Instants at which a zone's clock shows one wall time: none (skipped in spring), one, or two (repeated in autumn). */
export type WallReading =
  | { readonly kind: 'skipped' }
  | { readonly kind: 'one'; readonly atMs: EpochMs }
  | { readonly kind: 'two'; readonly firstMs: EpochMs; readonly secondMs: EpochMs; readonly span: RepeatedSpan };

export interface WallClock {
  readonly timeZone: string;
  instants(wallMs: WallMs): WallReading;
  /** The repeated spans that touch [from, to]. */
  repeatedSpans(fromWallMs: WallMs, toWallMs: WallMs): RepeatedSpan[];
}

/** Shorter than the time between any two changes of a zone since 2000 (a month, in Ramadan). */
const SEARCH_STEP_MS = 7 * 86_400_000;
const OFFSET_MARGIN_MS = 2 * 86_400_000;
const SKIPPED: WallReading = { kind: 'skipped' };

/** Stretches of one offset, ascending: `starts[i]` (UTC) up to `starts[i + 1]` has `offsets[i]`, in ms. */
interface Offsets {
  readonly starts: readonly EpochMs[];
  readonly offsets: readonly number[];
  readonly repeated: readonly RepeatedSpan[];
}

/**
 * The zone's clock between two instants. Every change of offset is found once, at the first question: after that a
 * reading costs a binary search instead of a calendar library's call, which a year of rows at 1 Hz would feel.
 */
export function createWallClock(timeZone: string, fromMs: EpochMs, toMs: EpochMs): WallClock {
  let known: Offsets | undefined;
  const zone = () => {
    known ??= findOffsets(timeZone, fromMs - OFFSET_MARGIN_MS, toMs + OFFSET_MARGIN_MS);
    return known;
  };
  let last = 0;
  const stretchOf = (wallMs: WallMs, { starts, offsets }: Offsets): number => {
    const startsBy = (index: number) => starts[index]! + offsets[index]! <= wallMs;
    if (startsBy(last) && (last + 1 === starts.length || !startsBy(last + 1))) return last;
    let low = 0;
    let high = starts.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (startsBy(middle)) low = middle;
      else high = middle - 1;
    }
    last = low;
    return low;
  };

  return {
    timeZone,
    instants(wallMs) {
      const { starts, offsets } = zone();
      const index = stretchOf(wallMs, zone());
      const atMs = wallMs - offsets[index]!;
      if (atMs >= (starts[index + 1] ?? Number.POSITIVE_INFINITY)) return SKIPPED;
      if (index > 0) {
        const earlier = wallMs - offsets[index - 1]!;
        if (earlier < starts[index]!) {
          const span = { fromWallMs: starts[index]! + offsets[index]!, toWallMs: starts[index]! + offsets[index - 1]! };
          return { kind: 'two', firstMs: earlier, secondMs: atMs, span };
        }
      }
      return { kind: 'one', atMs };
    },
    repeatedSpans: (fromWallMs, toWallMs) =>
      zone().repeated.filter((span) => span.fromWallMs <= toWallMs && span.toWallMs > fromWallMs),
  };
}

function findOffsets(timeZone: string, fromMs: EpochMs, toMs: EpochMs): Offsets {
  let offset = utcOffsetMinutes(fromMs, timeZone) * 60_000;
  const starts = [Number.NEGATIVE_INFINITY];
  const offsets = [offset];
  const repeated: RepeatedSpan[] = [];
  for (let at = fromMs; at < toMs; at += SEARCH_STEP_MS) {
    const next = at + SEARCH_STEP_MS;
    const offsetNext = utcOffsetMinutes(next, timeZone) * 60_000;
    if (offsetNext === offset) continue;
    const change = changeBetween(at, next, offset, timeZone);
    if (offsetNext < offset) repeated.push({ fromWallMs: change + offsetNext, toWallMs: change + offset });
    starts.push(change);
    offsets.push(offsetNext);
    offset = offsetNext;
  }
  return { starts, offsets, repeated };
}

/** The instant, to the second, from which the offset differs from the one at `low`. */
function changeBetween(low: EpochMs, high: EpochMs, offset: number, timeZone: string): EpochMs {
  let before = Math.floor(low / 1000);
  let after = Math.ceil(high / 1000);
  while (after - before > 1) {
    const middle = Math.floor((before + after) / 2);
    if (utcOffsetMinutes(middle * 1000, timeZone) * 60_000 === offset) before = middle;
    else after = middle;
  }
  return after * 1000;
}

import type { Channel } from '../model/channel.ts';
import type { EpochMs } from '../model/units.ts';
import type { Piece } from '../store/port.ts';

/** A piece holds at most this many samples, all of one hour in UTC: the store's blocks are an hour long. */
const MAX_PIECE_SAMPLES = 3600;
const HOUR_MS = 3_600_000;
/** Stored in one transaction: some ten hours at 1 Hz, or three weeks of hourly values. */
const BATCH_SAMPLES = 36_000;
const BATCH_PIECES = 512;

export interface PieceMaker {
  add(atMs: EpochMs, value: number): void;
  full(): boolean;
  /** Hands on what has gathered; resolves when it is stored. */
  flush(): Promise<void>;
}

/** Gathers samples into pieces, in their order; a new one starts with another hour. */
export function createPieceMaker(
  head: { loggerId: string; channel: Channel; unit: string; arrivedMs: EpochMs },
  store: (pieces: Piece[]) => Promise<void>,
): PieceMaker {
  const { loggerId, channel, unit, arrivedMs } = head;
  let pieces: Piece[] = [];
  let samples = 0;
  let hour = Number.NaN;
  let times: number[] = [];
  let values: number[] = [];

  const close = () => {
    if (times.length === 0) return;
    pieces.push({
      loggerId,
      channel,
      unit,
      arrivedMs,
      timeMs: Float64Array.from(times),
      value: Float64Array.from(values),
    });
    times = [];
    values = [];
  };

  return {
    add(atMs, value) {
      const ofHour = Math.floor(atMs / HOUR_MS);
      if (ofHour !== hour || times.length === MAX_PIECE_SAMPLES) {
        close();
        hour = ofHour;
      }
      times.push(atMs);
      values.push(value);
      samples++;
    },
    full: () => samples >= BATCH_SAMPLES || pieces.length >= BATCH_PIECES,
    async flush() {
      close();
      const ready = pieces;
      pieces = [];
      samples = 0;
      for (let from = 0; from < ready.length; from += BATCH_PIECES) await store(ready.slice(from, from + BATCH_PIECES));
    },
  };
}

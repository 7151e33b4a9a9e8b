import type { Channel } from './channel.ts';
import type { EpochMs } from './units.ts';

/**
 * Samples of one channel as columns, ascending in time, one sample a time, canonical unit.
 * All arrays have the same length. A gap is the absence of samples; there is no filler value.
 */
export interface Series {
  readonly timeMs: Float64Array;
  readonly value: Float64Array;
  /** Bits of `SAMPLE_FLAG`, or undefined where all are nought. */
  readonly flags?: Uint8Array | undefined;
}

/** What is known about a stored sample besides its value. */
export const SAMPLE_FLAG = {
  /** Its time is the collector's, in a burst after a reconnection: kept, but not analysed. */
  timeUncertain: 1,
  /** Its time is that of arrival, not the logger's own. */
  timeOfArrival: 2,
} as const;

/** Samples as they were sent: the unit may change along the way, so they come in runs of one unit each. */
export interface SentRun {
  readonly unit: string;
  readonly timeMs: Float64Array;
  readonly value: Float64Array;
  readonly flags?: Uint8Array | undefined;
}

/** Extremes, mean and count of equal buckets; buckets without samples are left out. `startMs` is the bucket's start. */
export interface SummarySeries {
  readonly stepMs: number;
  readonly startMs: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
  readonly mean: Float64Array;
  readonly count: Uint32Array;
}

export interface LatestSample {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly atMs: EpochMs;
  /** As sent. */
  readonly value: number;
  readonly unit: string;
  readonly arrivedMs: EpochMs;
}

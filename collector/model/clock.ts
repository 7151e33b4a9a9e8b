import type { EpochMs } from './units.ts';

/** Time as a parameter: parts that need the hour or a timer are given a clock, so that tests move it by hand. */
export interface Clock {
  nowMs(): EpochMs;
  /** Calls `action` every `intervalMs` until the returned function is called. */
  every(intervalMs: number, action: () => void): () => void;
}

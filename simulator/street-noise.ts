import { RandomStream } from './random.ts';

/** One autocorrelated part of the main's restlessness: an Ornstein–Uhlenbeck process. */
export interface NoisePart {
  /** Time over which it forgets itself, in seconds; at most two hours, so that days are independent. */
  readonly correlationS: number;
  readonly sdBar: number;
}

export const SECONDS_A_DAY = 86_400;
export const DAY_MS = SECONDS_A_DAY * 1000;

/**
 * Adds the noise of one UTC day, one value a second, to `target`. The value at each midnight belongs to that midnight
 * alone, and the path between two midnights is an Ornstein–Uhlenbeck bridge, so any day can be made without the days
 * before it and yet joins them without a step.
 *
 * Bridge: X(t) = F(t) + (b − F(T))·sinh(t/τ)/sinh(T/τ), F the free process from the first midnight's value
 * (conditioning of a Gaussian Markov process; Karatzas & Shreve, Brownian Motion, 5.6.B, from memory).
 */
export function addStreetNoise(
  target: Float64Array,
  dayStartMs: number,
  seed: number,
  parts: readonly NoisePart[],
): void {
  const path = new Float64Array(SECONDS_A_DAY + 1);
  parts.forEach((part, index) => {
    const atMidnight = (ms: number): number => new RandomStream(seed, 'midnight', index, ms).normal(0, part.sdBar);
    const random = new RandomStream(seed, 'noise', index, dayStartMs);
    const keep = Math.exp(-1 / part.correlationS);
    const push = part.sdBar * Math.sqrt(1 - keep * keep);
    let value = atMidnight(dayStartMs);
    path[0] = value;
    for (let i = 1; i <= SECONDS_A_DAY; i++) {
      value = keep * value + push * random.normal();
      path[i] = value;
    }
    const miss = atMidnight(dayStartMs + DAY_MS) - value;
    // sinh(t/τ)/sinh(T/τ) is exp(−(T−t)/τ) to better than exp(−2t/τ) where it matters; beyond 30 τ it is nought.
    const reach = Math.min(SECONDS_A_DAY, Math.ceil(30 * part.correlationS));
    let weight = 1;
    for (let i = SECONDS_A_DAY; i >= SECONDS_A_DAY - reach; i--) {
      path[i]! += miss * weight;
      weight *= keep;
    }
    path[0] = atMidnight(dayStartMs);
    for (let i = 0; i < target.length; i++) target[i]! += path[i]!;
  });
}

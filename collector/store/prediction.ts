/*
 * What a reading is expected to be, from those before it, so that only the surprise is kept. The reading before is the
 * best guess where little noise meets steps; where white noise rides on a slow signal, a difference carries the noise
 * twice, and a running mean (exponential, gain 1/4 or 1/8) saves up to half a bit a sample. All in whole numbers of at
 * most 30 bits, so that the guess is the same on every machine.
 */

/** Gain of the running mean as a power of two: 0 is the reading before itself, 2 is a quarter, 3 an eighth. */
export const SMOOTHINGS = [0, 2, 3] as const;
export type Smoothing = (typeof SMOOTHINGS)[number];

/** Largest whole number that may be smoothed: the mean carries eight more bits. */
export const LARGEST_SMOOTHED = 2 ** 21;
const FRACTION_BITS = 8;
const HALF = 1 << (FRACTION_BITS - 1);

/** Reading minus guess, for every reading after the first (which is nought). Values lie within ±LARGEST_SMOOTHED. */
export function surprises(values: Int32Array, smoothing: Smoothing): Int32Array {
  const residuals = new Int32Array(Math.max(values.length - 1, 0));
  let mean = 0;
  for (let i = 1; i < values.length; i++) {
    const value = values[i]!;
    residuals[i - 1] = value - ((mean + HALF) >> FRACTION_BITS);
    mean += ((value << FRACTION_BITS) - mean) >> smoothing;
  }
  return residuals;
}

/**
 * Turns surprises (in place of each reading from index 1 on) back into readings: what `surprises` was given, from nought
 * on. Numbers stay whole and below 2^30, so the arithmetic is that of 32-bit integers.
 */
export function restore(residuals: Float64Array, smoothing: Smoothing): void {
  let mean = 0;
  for (let i = 1; i < residuals.length; i++) {
    const value = ((residuals[i]! | 0) + ((mean + HALF) >> FRACTION_BITS)) | 0;
    mean = (mean + (((value << FRACTION_BITS) - mean) >> smoothing)) | 0;
    residuals[i] = value;
  }
}

/** The smoothing whose surprises need the fewest bits, by their order-0 entropy; large ones count as one symbol. */
export function bestSmoothing(values: Int32Array): Smoothing {
  let best: Smoothing = 0;
  let fewestBits = Number.POSITIVE_INFINITY;
  for (const smoothing of SMOOTHINGS) {
    const bits = entropyBits(surprises(values, smoothing));
    // The plain difference keeps repetitions that deflate can find, so another form must be clearly better.
    if (bits < fewestBits * (best === 0 ? 0.98 : 1)) {
      best = smoothing;
      fewestBits = bits;
    }
  }
  return best;
}

const SYMBOLS = 256;

function entropyBits(residuals: Int32Array): number {
  const counts = new Uint32Array(SYMBOLS);
  for (let i = 0; i < residuals.length; i++) {
    const residual = residuals[i]!;
    const symbol = residual >= -127 && residual <= 127 ? residual + 128 : 0;
    counts[symbol] = counts[symbol]! + 1;
  }
  let bits = counts[0]! * 8;
  for (let symbol = 0; symbol < SYMBOLS; symbol++) {
    const count = counts[symbol]!;
    if (count > 0) bits += count * Math.log2(residuals.length / count);
  }
  return bits;
}

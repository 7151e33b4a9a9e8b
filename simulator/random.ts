/*
 * Repeatable chance. Every part of the simulation draws from its own stream, named by the seed and by words
 * ('street', '2026-05-04', …), so that a day can be made again without making the days before it.
 */

/** 32-bit FNV-1a over the words, finished by the murmur3 mixer so that names that differ by one letter don't correlate. */
function hashWords(words: readonly (string | number)[], salt: number): number {
  let hash = (0x811c9dc5 ^ salt) >>> 0;
  for (const word of words) {
    const text = `${word}/`;
    for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  }
  hash = Math.imul(hash ^ (hash >>> 16), 0x85ebca6b);
  hash = Math.imul(hash ^ (hash >>> 13), 0xc2b2ae35);
  return (hash ^ (hash >>> 16)) >>> 0;
}

const NORMAL_LEVELS = 1 << 14;

/**
 * Quantiles of the standard normal at the midpoints of 16,384 equal steps of probability: one table look-up instead of
 * logarithms for each of millions of samples; tails end at ±4.0. Rational approximation of P. J. Acklam (2003), relative
 * error under 1.2e-9.
 */
const NORMAL_TABLE = Float64Array.from({ length: NORMAL_LEVELS }, (_, i) => normalQuantile((i + 0.5) / NORMAL_LEVELS));

function normalQuantile(p: number): number {
  const tail = (q: number): number =>
    (((((-7.784894002430293e-3 * q - 0.3223964580411365) * q - 2.400758277161838) * q - 2.549732539343734) * q +
      4.374664141464968) *
      q +
      2.938163982698783) /
    ((((7.784695709041462e-3 * q + 0.3224671290700398) * q + 2.445134137142996) * q + 3.754408661907416) * q + 1);
  if (p < 0.02425) return tail(Math.sqrt(-2 * Math.log(p)));
  if (p > 1 - 0.02425) return -tail(Math.sqrt(-2 * Math.log(1 - p)));
  const q = p - 0.5;
  const r = q * q;
  return (
    ((((((-39.69683028665376 * r + 220.9460984245205) * r - 275.9285104469687) * r + 138.357751867269) * r -
      30.66479806614716) *
      r +
      2.506628277459239) *
      q) /
    (((((-54.47609879822406 * r + 161.5858368580409) * r - 155.6989798598866) * r + 66.80131188771972) * r -
      13.28068155288572) *
      r +
      1)
  );
}

/** Generator sfc32 (Small Fast Counter, C. Doty-Humphrey, PractRand) over one named stream. */
export class RandomStream {
  private a: number;
  private b: number;
  private c: number;
  private counter = 1;

  constructor(seed: number, ...names: readonly (string | number)[]) {
    const words = [seed, ...names];
    this.a = hashWords(words, 0x9e3779b9);
    this.b = hashWords(words, 0x243f6a88);
    this.c = hashWords(words, 0xb7e15162);
    for (let i = 0; i < 12; i++) this.bits();
  }

  /** 32 random bits. */
  bits(): number {
    const sum = (this.a + this.b + this.counter) | 0;
    this.counter = (this.counter + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = ((this.c << 21) | (this.c >>> 11)) + sum;
    this.c |= 0;
    return sum >>> 0;
  }

  /** In [low, high). */
  uniform(low = 0, high = 1): number {
    return low + (high - low) * (this.bits() / 4294967296);
  }

  chance(probability: number): boolean {
    return this.uniform() < probability;
  }

  /** An integer in [low, high], both included. */
  integer(low: number, high: number): number {
    return low + Math.floor(this.uniform() * (high - low + 1));
  }

  pick<T>(choices: readonly T[]): T {
    const chosen = choices[Math.floor(this.uniform() * choices.length)];
    if (chosen === undefined) throw new RangeError('nothing to pick from');
    return chosen;
  }

  /** Index into `weights`, each as likely as its weight. */
  weighted(weights: readonly number[]): number {
    let left = this.uniform() * weights.reduce((sum, w) => sum + w, 0);
    for (let i = 0; i < weights.length; i++) {
      left -= weights[i]!;
      if (left < 0) return i;
    }
    return weights.length - 1;
  }

  normal(mean = 0, sd = 1): number {
    return mean + sd * NORMAL_TABLE[this.bits() >>> 18]!;
  }

  /** Log-normal with the given mean and coefficient of variation. */
  logNormal(mean: number, variation: number): number {
    const sigma2 = Math.log(1 + variation * variation);
    return mean * Math.exp(this.normal(0, Math.sqrt(sigma2)) - sigma2 / 2);
  }

  /** Chi-square with a whole number of degrees of freedom; its mean is that number. */
  chiSquare(degrees: number): number {
    let sum = 0;
    for (let i = 0; i < degrees; i++) sum += this.normal() ** 2;
    return sum;
  }

  /** Poisson by multiplication (Knuth); for means up to a few dozen. */
  poisson(mean: number): number {
    const limit = Math.exp(-mean);
    let count = -1;
    let product = 1;
    do {
      count++;
      product *= this.uniform();
    } while (product > limit);
    return count;
  }
}

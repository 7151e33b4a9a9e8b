/** Arithmetic mean; NaN for an empty list. Shifted by the first value, so that large offsets cost no digits. */
export function mean(values: ArrayLike<number>): number {
  if (values.length === 0) return Number.NaN;
  const shift = values[0]!;
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]! - shift;
  return shift + sum / values.length;
}

/**
 * Standard deviation with n − 1, in two passes: the one-pass form Σx² − (Σx)²/n loses every digit on data such as
 * NIST StRD NumAcc4. NaN below two values.
 */
export function standardDeviation(values: ArrayLike<number>): number {
  const n = values.length;
  if (n < 2) return Number.NaN;
  const centre = mean(values);
  let squares = 0;
  let rest = 0;
  for (let i = 0; i < n; i++) {
    const d = values[i]! - centre;
    squares += d * d;
    rest += d;
  }
  return Math.sqrt((squares - (rest * rest) / n) / (n - 1));
}

/** Autocorrelation at a lag, r = Σ(xᵢ−x̄)(xᵢ₊ₗ−x̄)/Σ(xᵢ−x̄)² (NIST StRD definition, there for lag 1). */
export function autocorrelation(values: ArrayLike<number>, lag = 1): number {
  const centre = mean(values);
  let products = 0;
  let squares = 0;
  for (let i = 0; i < values.length; i++) {
    const d = values[i]! - centre;
    squares += d * d;
    if (i + lag < values.length) products += d * (values[i + lag]! - centre);
  }
  return products / squares;
}

/**
 * How many neighbouring values of a series count for one: 1 + 2Σr up to the first lag that isn't positive, or `mostLags`
 * (Priestley 1981, section 5.3.2).
 */
export function correlatedValues(values: ArrayLike<number>, mostLags: number): number {
  let sum = 1;
  for (let lag = 1; lag <= Math.min(mostLags, values.length - 2); lag++) {
    const r = autocorrelation(values, lag);
    if (!(r > 0)) break;
    sum += 2 * r;
  }
  return sum;
}

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

/** Lag-1 autocorrelation r1 = Σ(xᵢ−x̄)(xᵢ₊₁−x̄)/Σ(xᵢ−x̄)² (NIST StRD definition). */
export function lagOneAutocorrelation(values: ArrayLike<number>): number {
  const centre = mean(values);
  let products = 0;
  let squares = 0;
  for (let i = 0; i < values.length; i++) {
    const d = values[i]! - centre;
    squares += d * d;
    if (i + 1 < values.length) products += d * (values[i + 1]! - centre);
  }
  return products / squares;
}

/** Correlation coefficient of two lists of one length (JCGM 100:2008, 5.2.2). */
export function correlation(x: readonly number[], y: readonly number[]): number {
  const mx = mean(x);
  const my = mean(y);
  let xy = 0;
  let xx = 0;
  let yy = 0;
  for (let i = 0; i < x.length; i++) {
    const dx = x[i]! - mx;
    const dy = y[i]! - my;
    xy += dx * dy;
    xx += dx * dx;
    yy += dy * dy;
  }
  return xy / Math.sqrt(xx * yy);
}

/**
 * Standard normal distribution function by the continued fraction and series of the complementary error function;
 * absolute error below 1e-12. (Abramowitz and Stegun 7.1.5 and 7.1.14.)
 */
export function normalCdf(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  let upper: number;
  if (x < 2.5) {
    let term = x;
    let sum = x;
    for (let n = 1; n < 120 && Math.abs(term) > 1e-18; n++) {
      term *= (-x * x) / n;
      sum += term / (2 * n + 1);
    }
    upper = 0.5 - sum / Math.sqrt(Math.PI);
  } else {
    let fraction = 0;
    for (let n = 80; n >= 1; n--) fraction = n / 2 / (x + fraction);
    upper = Math.exp(-x * x) / (2 * Math.sqrt(Math.PI) * (x + fraction));
  }
  return z > 0 ? 1 - upper : upper;
}

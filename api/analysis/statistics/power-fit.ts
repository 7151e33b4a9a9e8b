/** y = k·xⁿ fitted to points, with what the least squares say of its two parameters. */
export interface PowerFit {
  readonly k: number;
  readonly n: number;
  /** Standard errors of k and n: s²·(JᵀWJ)⁻¹, s² from the weighted residuals with two degrees of freedom less. */
  readonly kSe: number;
  readonly nSe: number;
  /** Weighted residual standard deviation. */
  readonly residualSd: number;
}

/** What is known of the exponent before any point was seen: a mean and one deviation, in units of the weighted residuals. */
export interface ExponentPrior {
  readonly mean: number;
  readonly sd: number;
}

const MOST_ROUNDS = 60;
/** Relative step at which Gauss–Newton has arrived. */
const ARRIVED = 1e-12;

/**
 * Weighted least squares of y = k·xⁿ by Gauss–Newton (damped by halving), in log k and n, which keeps k above nought.
 * Standard errors as of nonlinear least squares (NIST StRD; Bates and Watts 1988, section 2.2). Cost: linear in the points
 * a round, a handful of rounds.
 * @param x above nought
 * @param weight of each squared residual; all alike where left out
 * @param prior adds ((n − mean)/sd)² to the sum of squares, for weights that are inverse variances
 */
export function fitPower(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  start: { readonly k: number; readonly n: number },
  weight?: ArrayLike<number>,
  prior?: ExponentPrior,
): PowerFit {
  const count = x.length;
  const logX = Float64Array.from(x, Math.log);
  const priorWeight = prior ? 1 / (prior.sd * prior.sd) : 0;
  const priorMean = prior?.mean ?? 0;
  const sumOfSquares = (logK: number, n: number): number => {
    let sum = priorWeight * (n - priorMean) ** 2;
    for (let i = 0; i < count; i++) {
      const off = y[i]! - Math.exp(logK + n * logX[i]!);
      sum += (weight ? weight[i]! : 1) * off * off;
    }
    return sum;
  };
  let logK = Math.log(start.k);
  let n = start.n;
  let least = sumOfSquares(logK, n);
  let aa = 0;
  let ab = 0;
  let bb = 0;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    aa = 0;
    ab = 0;
    bb = priorWeight;
    let ra = 0;
    let rb = priorWeight * (priorMean - n);
    for (let i = 0; i < count; i++) {
      const w = weight ? weight[i]! : 1;
      const f = Math.exp(logK + n * logX[i]!);
      const byN = f * logX[i]!;
      const off = y[i]! - f;
      aa += w * f * f;
      ab += w * f * byN;
      bb += w * byN * byN;
      ra += w * f * off;
      rb += w * byN * off;
    }
    const determinant = aa * bb - ab * ab;
    if (!(determinant > 0)) break;
    const stepK = (bb * ra - ab * rb) / determinant;
    const stepN = (aa * rb - ab * ra) / determinant;
    let share = 1;
    let next = sumOfSquares(logK + stepK, n + stepN);
    for (; !(next <= least) && share > 1e-6; next = sumOfSquares(logK + share * stepK, n + share * stepN)) share /= 2;
    if (!(next <= least)) break;
    logK += share * stepK;
    n += share * stepN;
    least = next;
    if (Math.abs(stepK) < ARRIVED && Math.abs(stepN) < ARRIVED) break;
  }
  const k = Math.exp(logK);
  const s2 = count > 2 ? least / (count - 2) : Number.NaN;
  const determinant = aa * bb - ab * ab;
  return {
    k,
    n,
    kSe: k * Math.sqrt((s2 * bb) / determinant),
    nSe: Math.sqrt((s2 * aa) / determinant),
    residualSd: Math.sqrt(s2),
  };
}

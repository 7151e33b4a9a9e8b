/**
 * Tabular CUSUM: S⁺ᵢ = max(0, S⁺ᵢ₋₁ + xᵢ − target − k), S⁻ᵢ = max(0, S⁻ᵢ₋₁ + target − k − xᵢ)
 * (NIST/SEMATECH e-Handbook 6.3.2.3). `k` is half the shift that matters, in the data's unit.
 */
export function cusum(
  values: ArrayLike<number>,
  target: number,
  k: number,
): { readonly high: Float64Array; readonly low: Float64Array } {
  const high = new Float64Array(values.length);
  const low = new Float64Array(values.length);
  let up = 0;
  let down = 0;
  for (let i = 0; i < values.length; i++) {
    up = Math.max(0, up + values[i]! - target - k);
    down = Math.max(0, down + target - k - values[i]!);
    high[i] = up;
    low[i] = down;
  }
  return { high, low };
}

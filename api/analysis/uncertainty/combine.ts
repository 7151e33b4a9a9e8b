/** Coverage factor for about 95 % (JCGM 100:2008, 6.3.3). */
export const COVERAGE_FACTOR = 2;

/** Standard uncertainty of limits ±a with nothing more known: rectangular, a/√3 (JCGM 100:2008, 4.3.7). */
export function ofLimits(halfWidth: number): number {
  return halfWidth / Math.sqrt(3);
}

/** Standard uncertainty of a reading resolved in steps of `step`: step/√12 (JCGM 100:2008, F.2.2.1). */
export function ofResolution(step: number): number {
  return step / Math.sqrt(12);
}

/**
 * Combined standard uncertainty u_c² = Σ(cᵢuᵢ)² + 2ΣΣ cᵢcⱼuᵢuⱼrᵢⱼ (JCGM 100:2008, 5.1.2 and 5.2.2).
 * @param terms sensitivity times standard uncertainty of each input, sign kept
 * @param correlationOf correlation of inputs i < j; none where left out
 */
export function combine(terms: readonly number[], correlationOf?: (i: number, j: number) => number): number {
  let variance = 0;
  for (let i = 0; i < terms.length; i++) {
    variance += terms[i]! ** 2;
    if (!correlationOf) continue;
    for (let j = i + 1; j < terms.length; j++) variance += 2 * terms[i]! * terms[j]! * correlationOf(i, j);
  }
  return Math.sqrt(Math.max(0, variance));
}

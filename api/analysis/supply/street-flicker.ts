import { quantile } from '../statistics/quantile.ts';

const MOST_SAMPLES = 40_000;

/** A quiet street has restless hours: a sixth of the least fall that is reported. */
const LEAST_FLICKER_BAR = 0.005;
/**
 * How far short means of neighbouring rows usually differ with no edge between them: noise and the street's own flicker
 * over seconds, which neighbouring readings alone don't show. One standard deviation, from
 * the median or, where the street is restless at times, from the tail.
 * @param rows rows averaged on each side
 * @param tail share of the differences up to which the household's draws don't show, and that many normal deviations
 */
export function streetFlickerBar(
  pressureBar: Float64Array,
  rows: number,
  tail: { readonly share: number; readonly deviations: number },
): number {
  const stride = Math.max(1, Math.floor(pressureBar.length / MOST_SAMPLES));
  const differences: number[] = [];
  for (let i = rows; i + rows <= pressureBar.length; i += stride) {
    let before = 0;
    let after = 0;
    for (let m = 0; m < rows; m++) {
      before += pressureBar[i - 1 - m]!;
      after += pressureBar[i + m]!;
    }
    differences.push(Math.abs(after - before) / rows);
  }
  if (differences.length === 0) return LEAST_FLICKER_BAR;
  return Math.max(
    LEAST_FLICKER_BAR,
    quantile(differences, 0.5) / 0.6745,
    quantile(differences, tail.share) / tail.deviations,
  );
}

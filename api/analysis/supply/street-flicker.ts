import { quantile } from '../statistics/quantile.ts';

/** Differences that tell one stretch's flicker, each of rows of its own. */
const STRETCH_DIFFERENCES = 120;
const MOST_STRETCHES = 400;
/** A busy household's edges lie in up to a third of a stretch's differences: what less than half of them shows is the street's. */
const CALM_SHARE = 0.4;
/** Half-normal deviate of that share. */
const CALM_DEVIATIONS = 0.5244;
/** The street's restless hours decide, unless they are rare. */
const RESTLESS_SHARE = 0.8;

/** A quiet street has restless hours: a tenth of the least fall that is reported. */
const LEAST_FLICKER_BAR = 0.003;
/**
 * How far short means of neighbouring rows usually differ with no edge between them: noise and the street's own flicker
 * over seconds, which neighbouring readings alone don't show. One standard deviation. Told stretch by stretch from the
 * lesser differences, so that hundreds of draws a day don't count, then from the restless ones among the stretches.
 * @param rows rows averaged on each side
 * @param quantumBar converter's step: on a quiet main it doesn't average out, and short means differ by its rounding
 */
export function streetFlickerBar(pressureBar: Float64Array, rows: number, quantumBar: number): number {
  const least = Math.max(LEAST_FLICKER_BAR, quantumBar / Math.sqrt(12));
  const stretchRows = STRETCH_DIFFERENCES * rows;
  const whole = Math.floor((pressureBar.length - rows) / stretchRows);
  const stretches = Math.min(MOST_STRETCHES, Math.max(1, whole));
  const flickers: number[] = [];
  for (let s = 0; s < stretches; s++) {
    const from = Math.floor((s * Math.max(0, pressureBar.length - rows - stretchRows)) / Math.max(1, stretches - 1));
    const differences: number[] = [];
    for (let i = from + rows; i + rows <= pressureBar.length && differences.length < STRETCH_DIFFERENCES; i += rows) {
      let before = 0;
      let after = 0;
      for (let m = 0; m < rows; m++) {
        before += pressureBar[i - 1 - m]!;
        after += pressureBar[i + m]!;
      }
      differences.push(Math.abs(after - before) / rows);
    }
    if (differences.length > 0) flickers.push(quantile(differences, CALM_SHARE) / CALM_DEVIATIONS);
  }
  return flickers.length === 0 ? least : Math.max(least, quantile(flickers, RESTLESS_SHARE));
}

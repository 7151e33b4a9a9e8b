import { quantile, quantileOnGrid } from '../statistics/quantile.ts';
import type { RateTuning } from './rate-tuning.ts';

/** Differences that tell one stretch's flicker, each of rows of its own. */
const STRETCH_DIFFERENCES = 120;
const MOST_STRETCHES = 400;
/** A busy household's edges lie in up to a third of a stretch's differences: what less than half of them shows is the street's. */
const CALM_SHARE = 0.4;
/** Half-normal deviate of that share. */
const CALM_DEVIATIONS = 0.5244;
/** Noise differs by more than this many deviations once in 370 times; half-normal deviate of the share among the others. */
const NOISE_DEVIATIONS = 3;
const KEPT_DEVIATIONS = 0.5228;
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
    if (differences.length > 0) flickers.push(calmDeviation(differences, quantumBar / rows));
  }
  return flickers.length === 0 ? least : Math.max(least, quantile(flickers, RESTLESS_SHARE));
}

/**
 * One deviation of what most differences show. A busy household's edges at a slow rate lie in so many that the lesser
 * ones tell too much as well: what no noise does is left out until nothing more is.
 */
function calmDeviation(differences: readonly number[], stepBar: number): number {
  let kept = differences;
  let deviation = quantileOnGrid(kept, CALM_SHARE, stepBar) / CALM_DEVIATIONS;
  for (;;) {
    const most = NOISE_DEVIATIONS * deviation;
    const fewer = kept.filter((difference) => difference <= most);
    if (fewer.length === kept.length || fewer.length === 0) return deviation;
    kept = fewer;
    deviation = quantileOnGrid(kept, CALM_SHARE, stepBar) / KEPT_DEVIATIONS;
  }
}

/** Positions that tell one stretch, and rows between them: a quarter of an hour at 1 Hz. */
const LOCAL_DIFFERENCES = 120;
const LOCAL_STRIDE_ROWS = 8;
const FEWEST_LOCAL_DIFFERENCES = 40;
/** A stretch may be this much more restless than the log's restless hours: more is a busy household. */
const MOST_OVER_USUAL = 3;
/** Other rows than the usual ones are averaged only where their means clearly differ less. */
const CLEARLY_LESS = 0.85;

/** What the street and the noise do between short means of neighbouring rows, stretch by stretch, told where it is asked. */
export class LocalFlicker {
  readonly #from: number;
  readonly #to: number;
  readonly #stretchRows: number;
  readonly #gapRows: number;
  readonly #stretches: number;
  readonly #scales: readonly number[];
  readonly #levelScales: readonly number[];
  readonly #usualRows: number;
  readonly #usualBar: number;
  readonly #noiseBar: number;
  readonly #leastBar: number;
  readonly #sums: Float64Array;
  /** By scale, then by stretch; NaN until asked. */
  readonly #raw: readonly Float64Array[];

  /** @param usualBar flicker of the whole log between means of `tuning.levelRows`, for stretches with too few rows */
  constructor(
    pressureBar: Float64Array,
    from: number,
    to: number,
    tuning: RateTuning,
    usualBar: number,
    noiseBar: number,
    quantumBar: number,
  ) {
    const rows = Math.max(0, to - from);
    this.#stretches = Math.max(1, Math.round(rows / (LOCAL_DIFFERENCES * LOCAL_STRIDE_ROWS)));
    this.#stretchRows = rows / this.#stretches;
    this.#from = from;
    this.#to = to;
    this.#gapRows = tuning.transitionRows;
    this.#levelScales = tuning.levelScales;
    this.#scales = [...new Set([...tuning.levelScales, tuning.shortRows, tuning.longRows])];
    this.#usualRows = tuning.levelRows;
    this.#usualBar = usualBar;
    this.#noiseBar = noiseBar;
    this.#leastBar = Math.max(LEAST_FLICKER_BAR, quantumBar / Math.sqrt(12));
    this.#sums = new Float64Array(rows + 1);
    const base = pressureBar[from] ?? 0;
    for (let i = 0; i < rows; i++) this.#sums[i + 1] = this.#sums[i]! + (pressureBar[from + i]! - base);
    this.#raw = this.#scales.map(() => new Float64Array(this.#stretches).fill(Number.NaN));
  }

  /** One standard deviation of the difference of means of so many rows about a row: one of the rate's scales. */
  at(row: number, rows: number): number {
    // A quarter of an hour has too few rows at slow rates.
    if (this.#gapRows === 0) return Math.max(this.#leastBar, this.#usualBar);
    const s = Math.floor((row - this.#from) / this.#stretchRows);
    const here = this.#stretch(rows, s);
    const around = (this.#stretch(rows, s - 1) ** 2 + 2 * here ** 2 + this.#stretch(rows, s + 1) ** 2) / 4;
    return Math.max(here, Math.sqrt(around));
  }

  /** The rows whose means differ least about a row, and how much they differ. */
  calmest(row: number): { readonly rows: number; readonly bar: number } {
    let best = { rows: this.#usualRows, bar: this.at(row, this.#usualRows) };
    let asked = CLEARLY_LESS * best.bar;
    if (asked < this.#leastBar) return best;
    for (const rows of this.#levelScales) {
      const bar = this.at(row, rows);
      if (bar >= asked) continue;
      asked = bar;
      best = { rows, bar };
    }
    return best;
  }

  #stretch(rows: number, at: number): number {
    const s = Math.max(0, Math.min(this.#stretches - 1, at));
    const raw = this.#raw[this.#scales.indexOf(rows)]!;
    if (Number.isNaN(raw[s]!)) raw[s] = this.#measured(rows, s);
    return raw[s]!;
  }

  #measured(rows: number, s: number): number {
    const sums = this.#sums;
    const excess = Math.sqrt(Math.max(0, this.#usualBar ** 2 - (2 * this.#noiseBar ** 2) / this.#usualRows));
    const ofNoise = this.#noiseBar * Math.sqrt(2 / rows);
    const usual = Math.hypot(ofNoise, excess * Math.min(1, rows / this.#usualRows));
    // Levels leave out the rows at an edge itself: what the street does meanwhile counts as well.
    const g = this.#gapRows;
    const end = Math.min(this.#to - this.#from - rows - g, Math.round((s + 1) * this.#stretchRows));
    const differences: number[] = [];
    for (let i = Math.max(rows, Math.round(s * this.#stretchRows)); i < end; i += LOCAL_STRIDE_ROWS)
      differences.push(Math.abs(sums[i + g + rows]! - sums[i + g]! - sums[i]! + sums[i - rows]!) / rows);
    if (differences.length < FEWEST_LOCAL_DIFFERENCES) return Math.max(this.#leastBar, usual);
    const told = quantile(differences, CALM_SHARE) / CALM_DEVIATIONS;
    return Math.max(this.#leastBar, Math.min(told, MOST_OVER_USUAL * usual));
  }
}

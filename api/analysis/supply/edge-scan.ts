import { maskedEdges } from './masked-edges.ts';
import type { RateTuning } from './rate-tuning.ts';
import { GREAT_STREET_STEP_BAR } from './street-costs.ts';
import type { LocalFlicker } from './street-flicker.ts';

/** A step counts from this many deviations of its own noise on. */
const LEAST_DEVIATIONS = 3.8;
/** What a slope beside an edge adds to the variance of a step, in that of a single reading. */
const SLOPE_VARIANCE = 0.25;
/** Below this a step is the street's flicker: under half of the least fall a draw is reported with. */
const LEAST_STEP_BAR = 0.012;
/** Or within this many deviations of what the street does in the same few rows anyway. */
const LEAST_FLICKERS = 2.5;
/** Rows scanned at once: keeps the working arrays small whatever the length of the log. */
const CHUNK_ROWS = 1 << 16;

/** A third, longer look pays from this noise on. */
export const NOISY_BAR = 0.006;

interface Scale {
  readonly rows: number;
  readonly slopeRows: number;
  readonly z: Float32Array;
}

/**
 * First rows after sharp steps in rows [from, to), ascending. A step is the difference of short means on both sides,
 * less what the street's own slope explains: the steady rate of the rows further out (of two halves the lesser, so
 * that another edge nearby isn't taken for a slope). Linear in the rows.
 */
export function scanEdges(
  pressureBar: Float64Array,
  from: number,
  to: number,
  tuning: RateTuning,
  noiseBar: number,
  quantumBar: number,
  flicker: LocalFlicker,
): number[] {
  const found: number[] = [];
  const pad = 2 * (tuning.longRows + tuning.slopeRows + tuning.noisyRows) + 4;
  const size = Math.min(to - from, CHUNK_ROWS + 2 * pad);
  const sums = new Float64Array(size + 1);
  const looks = [...(tuning.rowDips ? [1] : []), tuning.shortRows, tuning.longRows];
  if (noiseBar > NOISY_BAR && tuning.noisyRows > 0) looks.push(tuning.noisyRows);
  const scales: Scale[] = looks.map((rows, k) => ({
    rows,
    slopeRows: k < 2 ? tuning.slopeRows : 2 * tuning.slopeRows,
    z: new Float32Array(size),
  }));
  const leastBar = Math.max(LEAST_STEP_BAR, 0.8 * quantumBar);
  const least = (row: number, rows: number) => Math.max(leastBar, LEAST_FLICKERS * flicker.at(row, rows));
  for (let chunk = from; chunk < to; chunk += CHUNK_ROWS) {
    const a = Math.max(from, chunk - pad);
    const b = Math.min(to, chunk + CHUNK_ROWS + pad);
    const base = pressureBar[a]!;
    for (let i = a; i < b; i++) sums[i - a + 1] = sums[i - a]! + (pressureBar[i]! - base);
    for (const scale of scales) score(scale, sums, a, b - a, tuning, noiseBar, leastBar, least);
    pickMaxima(pressureBar, a, b, chunk, Math.min(to, chunk + CHUNK_ROWS), scales, tuning, noiseBar, found);
  }
  const edges = apart(found, pressureBar, tuning);
  const masked = maskedEdges(pressureBar, from, to, edges, tuning, noiseBar, (row) => least(row, tuning.levelRows));
  return masked.length === 0 ? edges : apart([...edges, ...masked], pressureBar, tuning);
}

/** Rows beside two close edges that show whether the reading is back where it was, and how nearly: a share of the step. */
const BACK_ROWS = 2;
const BACK_SHARE = 0.25;

/**
 * Of edges closer than a draw can be short only the greater stays: a closing pipe rings for a row or two. A fall and a
 * rise that undo each other both stay, or both go where they are one row apart or where the rise came first: one alone
 * would be a tap that nobody turned back.
 */
function apart(found: readonly number[], pressureBar: Float64Array, tuning: RateTuning): number[] {
  const sorted = [...new Set(found)].sort((a, b) => a - b);
  const kept: number[] = [];
  const jump = (row: number) => pressureBar[row]! - pressureBar[row - 1]!;
  const beside = (row: number) => {
    let sum = 0;
    for (let m = 0; m < BACK_ROWS; m++) sum += pressureBar[Math.max(0, Math.min(pressureBar.length - 1, row + m))]!;
    return sum / BACK_ROWS;
  };
  for (const row of sorted) {
    const last = kept.at(-1);
    if (last === undefined || row - last >= tuning.edgesApartRows) {
      kept.push(row);
      continue;
    }
    const before = beside(last - 1 - BACK_ROWS);
    const within = pressureBar[row - 1]!;
    const after = beside(row + 1);
    const isUndone =
      (before - within) * (after - within) > 0 && Math.abs(after - before) < BACK_SHARE * Math.abs(within - before);
    if (isUndone && within < before && row - last > 1) kept.push(row);
    else if (isUndone) kept.pop();
    else if (Math.abs(jump(row)) > Math.abs(jump(last))) kept[kept.length - 1] = row;
  }
  return kept;
}

function score(
  scale: Scale,
  sums: Float64Array,
  offset: number,
  n: number,
  tuning: RateTuning,
  noiseBar: number,
  leastBar: number,
  leastAt: (row: number, rows: number) => number,
): void {
  const { rows: w, z } = scale;
  const g = tuning.transitionRows;
  const half = scale.slopeRows / 2;
  const reach = w + g;
  const perStep = 1 / (noiseBar * stepDeviation(w));
  z.fill(0, 0, n);
  for (let i = w; i + reach <= n; i++) {
    const left = (sums[i]! - sums[i - w]!) / w;
    const right = (sums[i + reach]! - sums[i + g]!) / w;
    let step = right - left;
    if (Math.abs(step) < leastBar) continue;
    const least = leastAt(offset + i, w);
    if (Math.abs(step) < least) continue;
    const before = i - w >= 2 * half ? steadyRate(sums, i - w, -1, half, left, w) : 0;
    const after = i + reach + 2 * half <= n ? steadyRate(sums, i + reach, 1, half, right, w) : 0;
    const slope = step < 0 ? Math.min(before, after, 0) : Math.max(before, after, 0);
    const explained = slope * reach;
    step = Math.abs(explained) >= Math.abs(step) ? 0 : step - explained;
    if (Math.abs(step) >= least) z[i] = step * perStep;
  }
}

/** One deviation of a step between means of so many rows, slopes beside it taken off, in that of a single reading. */
function stepDeviation(rows: number): number {
  return Math.sqrt(2 / rows + SLOPE_VARIANCE);
}

/** Rate per row that both halves of the rows beyond a window share; nought where they disagree in direction. */
function steadyRate(sums: Float64Array, edge: number, side: -1 | 1, half: number, near: number, w: number): number {
  const middle = edge + side * half;
  const far = edge + side * 2 * half;
  const inner = (side * (sums[middle]! - sums[edge]!)) / half;
  const outer = (side * (sums[far]! - sums[middle]!)) / half;
  const first = (side * (inner - near)) / ((half + w) / 2);
  const second = (side * (outer - inner)) / half;
  if (first * second <= 0) return 0;
  return Math.abs(first) < Math.abs(second) ? first : second;
}

function pickMaxima(
  pressureBar: Float64Array,
  a: number,
  b: number,
  from: number,
  to: number,
  scales: readonly Scale[],
  tuning: RateTuning,
  noiseBar: number,
  found: number[],
): void {
  const g = tuning.transitionRows;
  const isPeak = (z: Float32Array, i: number, reach: number): boolean => {
    const here = z[i]!;
    if (Math.abs(here) < LEAST_DEVIATIONS) return false;
    for (let j = Math.max(0, i - reach); j <= Math.min(b - a - 1, i + reach); j++) {
      const other = z[j]!;
      if (other * here <= 0) continue;
      if (Math.abs(other) > Math.abs(here) || (j < i && other === here)) return false;
    }
    return true;
  };
  // From the sharp look to the sure one: what a sharper look has seen within reach, with the same sign, is known.
  const seen: { at: number; sign: number; rows: number }[] = [];
  for (const { rows, z } of scales) {
    const known = seen.slice().sort((x, y) => x.at - y.at);
    const reach = rows + g;
    // Where one row is a level, great steps in rows that follow one another are edges each: two taps a minute apart.
    const lone =
      tuning.shortRows === 1 && rows === 1 ? GREAT_STREET_STEP_BAR / (noiseBar * stepDeviation(rows)) : Infinity;
    let k = 0;
    for (let i = from - a; i < to - a; i++) {
      if (!isPeak(z, i, Math.abs(z[i]!) >= lone ? 0 : reach)) continue;
      while (k < known.length && known[k]!.at < i - reach) k++;
      let isKnown = false;
      for (let m = k; m < known.length && known[m]!.at <= i + reach; m++) {
        if (known[m]!.sign * z[i]! > 0) isKnown = true;
      }
      if (!isKnown) seen.push({ at: i, sign: Math.sign(z[i]!), rows });
    }
  }
  for (const { at, rows } of seen) found.push(firstRowAfter(pressureBar, a + at, rows, g, a, b));
}

/** The row near `i` from which readings are nearer to the level after than to that before. */
function firstRowAfter(pressureBar: Float64Array, i: number, w: number, g: number, a: number, b: number): number {
  let left = 0;
  let right = 0;
  for (let m = 0; m < w; m++) {
    left += pressureBar[i - 1 - m]!;
    right += pressureBar[i + g + m]!;
  }
  const middle = (left + right) / (2 * w);
  const down = right < left;
  const isAfter = (row: number) => pressureBar[row]! < middle === down;
  let row = Math.max(a + 1, i - 1);
  while (row < Math.min(b - 1, i + g + 1) && !isAfter(row)) row++;
  while (row > a + 1 && row > i - 2 && isAfter(row - 1)) row--;
  return row;
}

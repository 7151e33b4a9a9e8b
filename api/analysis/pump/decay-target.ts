import { median } from '../statistics/quantile.ts';
import { outflowIndex, type Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** What a slow decay at rest tends to. */
export interface DecayTarget {
  /** Pressure at which the outflow would cease. About nought for a leak to the air, the inlet's for a passing valve. */
  readonly bar: number;
  readonly standardErrorBar: number;
  readonly rests: number;
}

const BINS = 8;
const PIECES = 12;
/** Fewer points than this in a bin don't show a slope. */
const POINTS_PER_BIN = 5;

/**
 * The pressure that decays tend to. Through a small opening q = k·√(p − a) (Torricelli), with the pressure a beyond it;
 * q is the outflow index's slope, so q² is a line in p that meets nought at a. Slopes are pooled over the rests into
 * bins of pressure, each bin gives its median, and the line is fitted by least squares with weights. Undefined where
 * the rests are too few, too short or too narrow.
 *
 * `beyondBar`, a series of the pressure beyond the opening on the same rows, turns p into p − beyond: the target is
 * then nought where the water goes there.
 */
export function decayTarget(
  rows: PumpRows,
  rests: readonly Rest[],
  beyondBar?: (row: number) => number,
): DecayTarget | undefined {
  const points: { bar: number; slope: number }[] = [];
  for (const rest of rests) {
    const count = rest.toRow - rest.fromRow + 1;
    if (count < 4) continue;
    const size = Math.max(1, Math.floor(count / PIECES));
    let lastIndex = Number.NaN;
    let lastMs = 0;
    let lastBar = 0;
    for (let from = rest.fromRow; from + size <= rest.toRow + 1; from += size) {
      let sum = 0;
      let time = 0;
      let beyond = 0;
      for (let i = from; i < from + size; i++) {
        sum += rows.bar[i]!;
        time += rows.timeMs[i]!;
        beyond += beyondBar?.(i) ?? 0;
      }
      const bar = sum / size;
      const index = outflowIndex(bar);
      const atMs = time / size;
      const above = bar - beyond / size;
      if (!Number.isNaN(lastIndex) && atMs > lastMs && Number.isFinite(above)) {
        points.push({ bar: (above + lastBar) / 2, slope: (index - lastIndex) / (atMs - lastMs) });
      }
      lastIndex = index;
      lastMs = atMs;
      lastBar = above;
    }
  }
  return lineOfSquares(points, rests.length);
}

function lineOfSquares(points: readonly { bar: number; slope: number }[], rests: number): DecayTarget | undefined {
  if (points.length < 3 * POINTS_PER_BIN) return undefined;
  const ascending = [...points].sort((a, b) => a.bar - b.bar);
  const bins: { x: number; y: number; weight: number }[] = [];
  for (let bin = 0; bin < BINS; bin++) {
    const part = ascending.slice(
      Math.floor((bin * ascending.length) / BINS),
      Math.floor(((bin + 1) * ascending.length) / BINS),
    );
    if (part.length < POINTS_PER_BIN) continue;
    const slope = Math.max(0, median(part.map((point) => point.slope)));
    bins.push({ x: median(part.map((point) => point.bar)), y: slope * slope, weight: 1 });
  }
  if (bins.length < 3) return undefined;
  const n = bins.length;
  const meanX = bins.reduce((sum, { x }) => sum + x, 0) / n;
  const meanY = bins.reduce((sum, { y }) => sum + y, 0) / n;
  const xx = bins.reduce((sum, { x }) => sum + (x - meanX) ** 2, 0);
  const xy = bins.reduce((sum, { x, y }) => sum + (x - meanX) * (y - meanY), 0);
  if (!(xy > 0) || !(meanY > 0)) return undefined;
  const slope = xy / xx;
  const bar = meanX - meanY / slope;
  const squares = bins.reduce((sum, { x, y }) => sum + (y - meanY - slope * (x - meanX)) ** 2, 0);
  const variance = squares / Math.max(1, n - 2);
  // a = x̄ − ȳ/b: its error by the law of propagation (JCGM 100, 5.1), ȳ and b being uncorrelated.
  const standardErrorBar = Math.sqrt(variance / n / slope ** 2 + ((meanY / slope ** 2) ** 2 * variance) / xx);
  return { bar, standardErrorBar, rests };
}

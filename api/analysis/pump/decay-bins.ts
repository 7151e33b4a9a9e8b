import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import type { Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** How fast the pressure falls at rest about one pressure, over all rests. */
export interface DecayBin {
  readonly bar: number;
  /** Logarithm of the fall, bar a second. */
  readonly logFall: number;
  /** Inverse square of its standard error. */
  readonly weight: number;
}

/** One piece of a rest: its middle pressure and how fast it fell, bar a second. */
interface Piece {
  readonly bar: number;
  readonly fall: number;
}

const BINS = 10;
const PIECES = 12;
/** Fewer points than this in a bin don't show a slope. */
const POINTS_PER_BIN = 4;
/** The pump's settling after a stop isn't decay. */
const SETTLING_MS = 3_000;
/** Gas squeezed warm cools over the first part of a rest. */
const SETTLING_SHARE = 0.1;
/** A rest of fewer steps shows hardly more than its turns; between coarse rows even one, away from the turns, is a fall. */
const FEWEST_STEPS = 4;
const COARSE_MS = 15_000;
const FEWEST_COARSE_STEPS = 1;
/** Relative error of a slope that no number of readings takes away: plants obey no law exactly. */
const LEAST_SLOPE_ERROR = 0.012;

/** The falls of all rests by pressure, ascending: bins of as many pieces each, each with its median. Empty with too few. */
export function decayBins(rows: PumpRows, rests: readonly Rest[]): DecayBin[] {
  const points = rests.flatMap((rest) => piecesOf(rows, rest));
  if (points.length < 4 * POINTS_PER_BIN) return [];
  points.sort((a, b) => a.bar - b.bar);
  const count = Math.min(BINS, Math.floor(points.length / POINTS_PER_BIN));
  const bins: DecayBin[] = [];
  for (let bin = 0; bin < count; bin++) {
    const part = points.slice(
      Math.floor((bin * points.length) / count),
      Math.floor(((bin + 1) * points.length) / count),
    );
    const fall = median(part.map((point) => point.fall));
    if (!(fall > 0)) continue;
    // Error of a median of normal values: 1.25 standard deviations over √n, the deviation from the median absolute one.
    const spread = MAD_TO_SIGMA * median(part.map((point) => Math.abs(point.fall - fall)));
    const error = Math.hypot(LEAST_SLOPE_ERROR, (1.25 * spread) / Math.sqrt(part.length) / fall);
    bins.push({ bar: median(part.map((point) => point.bar)), logFall: Math.log(fall), weight: error ** -2 });
  }
  return bins;
}

function piecesOf(rows: PumpRows, rest: Rest): Piece[] {
  let first = rest.fromRow;
  const settling = Math.max(SETTLING_MS, SETTLING_SHARE * (rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!));
  while (first < rest.toRow && rows.timeMs[first]! - rows.timeMs[rest.fromRow]! < settling) first++;
  const fewest = rows.intervalMs > COARSE_MS ? FEWEST_COARSE_STEPS : FEWEST_STEPS;
  if (rest.toRow - first < fewest) return [];
  const size = Math.max(1, Math.floor((rest.toRow - first + 1) / PIECES));
  const pieces: Piece[] = [];
  let last: { bar: number; atMs: number } | undefined;
  for (let from = first; from + size <= rest.toRow + 1; from += size) {
    let sum = 0;
    let time = 0;
    for (let i = from; i < from + size; i++) {
      sum += rows.bar[i]!;
      time += rows.timeMs[i]! - rows.timeMs[first]!;
    }
    const now = { bar: sum / size, atMs: time / size };
    if (last && now.atMs > last.atMs) {
      pieces.push({ bar: (now.bar + last.bar) / 2, fall: (1000 * (last.bar - now.bar)) / (now.atMs - last.atMs) });
    }
    last = now;
  }
  return pieces;
}

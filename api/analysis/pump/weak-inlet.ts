import { formatRfc3339 } from '../../../collector/model/instant.ts';
import type { WeakInlet } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';

/** A run whose stop is not seen is followed no further than this. */
const LONGEST_UNSTOPPED_MS = 3 * 3_600_000;
const CHANCE_IN_NOISE = 2;
/** A single reading this many standard deviations below is below, however short the run: calming would take it away. */
const SURE_IN_NOISE = 4;
/** The lowest of many noisy readings lies about so many standard deviations under the lowest pressure. */
const LOWEST_IN_NOISE = 2.5;
/** A pump pulls for longer than a second, but between coarser rows a tap opens and closes. */
const GLITCHES_SHOWN_MS = 2_000;
const GLITCH_BAR = 0.2;
/** The main's own level is read over this long before a start. */
const BEFORE_MS = 30_000;

/**
 * Spells in which the inlet is below the limit while the pump runs: at most one a run, from the first row below to the
 * end of the last one. Of a run of which several rows are seen, a single row barely below may be noise.
 */
export function weakInlets(
  inlet: PumpRows,
  runs: readonly { readonly startMs: number; readonly stopMs?: number | undefined }[],
  weakInletBar: number,
): WeakInlet[] {
  const weak: WeakInlet[] = [];
  let row = 0;
  for (const run of runs) {
    const stopMs = run.stopMs ?? run.startMs + LONGEST_UNSTOPPED_MS;
    while (row < inlet.timeMs.length && inlet.timeMs[row]! < run.startMs) row++;
    const standing = standingBefore(inlet, row, run.startMs);
    let rowsSeen = 0;
    let rowsBelow = 0;
    let first = -1;
    let last = -1;
    let lowest = Number.POSITIVE_INFINITY;
    for (let i = row; i < inlet.timeMs.length && inlet.timeMs[i]! < stopMs; i++) {
      rowsSeen++;
      const surelyBelow = inlet.bar[i]! < weakInletBar - SURE_IN_NOISE * inlet.noiseBar;
      if (inlet.calmBar[i]! >= weakInletBar && !surelyBelow) continue;
      rowsBelow++;
      if (first < 0) first = i;
      last = i;
      const unblunted = surelyBelow ? inlet.bar[i]! + LOWEST_IN_NOISE * inlet.noiseBar : Number.POSITIVE_INFINITY;
      lowest = Math.min(lowest, inlet.calmBar[i]!, unblunted);
    }
    const barely = lowest > weakInletBar - CHANCE_IN_NOISE * inlet.calmNoiseBar;
    const chance = rowsSeen >= 4 && rowsBelow < 2 && (barely || isGlitch(inlet, row, first));
    if (rowsBelow === 0 || chance) continue;
    weak.push({
      start: formatRfc3339(inlet.timeMs[first]!),
      end: formatRfc3339(Math.min(Math.max(stopMs, inlet.timeMs[last]!), inlet.timeMs[last]! + inlet.intervalMs)),
      minBar: lowest,
      ...(Number.isFinite(standing) ? { pullBar: standing - lowest } : {}),
    });
  }
  return weak;
}

/** Whether a lone reading stands far below both neighbours in the midst of a run: a fault of the reading, no pull. */
function isGlitch({ bar, timeMs, noiseBar, intervalMs }: PumpRows, runRow: number, at: number): boolean {
  if (intervalMs > GLITCHES_SHOWN_MS || at < runRow + 2 || at + 1 >= timeMs.length) return false;
  const jump = Math.min(bar[at - 1]!, bar[at + 1]!) - bar[at]!;
  return jump > Math.max(GLITCH_BAR, 8 * noiseBar);
}

/** Median of the inlet just before a start, NaN where no row lies there. */
function standingBefore(inlet: PumpRows, row: number, startMs: number): number {
  const beforeMs = Math.max(BEFORE_MS, 1.5 * inlet.intervalMs);
  let from = row;
  while (from > 0 && inlet.timeMs[from - 1]! >= startMs - beforeMs) from--;
  return from < row ? median(inlet.bar.subarray(from, row)) : Number.NaN;
}

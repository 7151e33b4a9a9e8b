import { formatRfc3339 } from '../../../collector/model/instant.ts';
import type { WeakInlet } from '../findings.ts';
import type { RunPull } from './inlet-pulls.ts';
import type { PumpRows } from './pump-rows.ts';

const CHANCE_IN_NOISE = 2;
/** A single reading this many standard deviations below is below, however short the run: calming would take it away. */
const SURE_IN_NOISE = 4;
/** The lowest of many noisy readings lies about so many standard deviations under the lowest pressure. */
const LOWEST_IN_NOISE = 2.5;
/** A pump pulls for longer than a second, but between coarser rows a tap opens and closes. */
const GLITCHES_SHOWN_MS = 2_000;
const GLITCH_BAR = 0.2;

/**
 * Spells in which the inlet is below the limit while the pump runs: at most one a run, from the first row below to the
 * end of the last one. Of a run of which several rows are seen, a single row barely below may be noise.
 * @param pulls what each run did to the inlet
 * @param rangeEndBar lower end of the sensor's range
 * @returns by run, undefined where the inlet was not weak
 */
export function weakInletByRun(
  inlet: PumpRows,
  runs: readonly { readonly startMs: number; readonly endMs: number }[],
  weakInletBar: number,
  pulls: readonly RunPull[] = [],
  rangeEndBar = Number.NEGATIVE_INFINITY,
): (WeakInlet | undefined)[] {
  let row = 0;
  return runs.map((run, k) => {
    while (row < inlet.timeMs.length && inlet.timeMs[row]! < run.startMs) row++;
    let rowsSeen = 0;
    let rowsBelow = 0;
    let first = -1;
    let last = -1;
    let lowest = Number.POSITIVE_INFINITY;
    let lowestMs = run.startMs;
    for (let i = row; i < inlet.timeMs.length && inlet.timeMs[i]! < run.endMs; i++) {
      rowsSeen++;
      const surelyBelow = inlet.bar[i]! < weakInletBar - SURE_IN_NOISE * inlet.noiseBar;
      if (inlet.calmBar[i]! >= weakInletBar && !surelyBelow) continue;
      rowsBelow++;
      if (first < 0) first = i;
      last = i;
      const unblunted = surelyBelow ? inlet.bar[i]! + LOWEST_IN_NOISE * inlet.noiseBar : Number.POSITIVE_INFINITY;
      const bar = Math.min(inlet.calmBar[i]!, unblunted);
      if (bar >= lowest) continue;
      lowest = bar;
      lowestMs = inlet.timeMs[i]!;
    }
    const barely = lowest > weakInletBar - CHANCE_IN_NOISE * inlet.calmNoiseBar;
    const chance = rowsSeen >= 4 && rowsBelow < 2 && (barely || isGlitch(inlet, row, first));
    if (rowsBelow === 0 || chance) return undefined;
    const standingBar = pulls[k]?.standingAt(lowestMs) ?? Number.NaN;
    return {
      start: formatRfc3339(inlet.timeMs[first]!),
      end: formatRfc3339(Math.min(Math.max(run.endMs, inlet.timeMs[last]!), inlet.timeMs[last]! + inlet.intervalMs)),
      minBar: lowest,
      ...(Number.isFinite(standingBar) ? { pullBar: standingBar - lowest, standingBar } : {}),
      ...(lowest <= rangeEndBar + inlet.calmNoiseBar ? { atRangeEnd: true } : {}),
    };
  });
}

/** Whether a lone reading stands far below both neighbours in the midst of a run: a fault of the reading, no pull. */
function isGlitch({ bar, timeMs, noiseBar, intervalMs }: PumpRows, runRow: number, at: number): boolean {
  if (intervalMs > GLITCHES_SHOWN_MS || at < runRow + 2 || at + 1 >= timeMs.length) return false;
  const jump = Math.min(bar[at - 1]!, bar[at + 1]!) - bar[at]!;
  return jump > Math.max(GLITCH_BAR, 8 * noiseBar);
}

import type { AnalysisColumns, AnalysisSite } from '../findings.ts';
import { estimateIntervalS } from './interval.ts';
import { type NoiseFloor, noiseFloor } from './noise-floor.ts';
import { markOutOfRange } from './out-of-range.ts';
import { markSpikes, ordinarySpan } from './spikes.ts';
import { leastStuckRows, markRunsOf } from './stuck.ts';

/** What cleaning asks of the whole log: estimated once, so that rows that arrive are cleaned as those that were there. */
export interface CleaningParameters extends NoiseFloor {
  readonly intervalS: number;
  /** Span of ordinary pressures beside a pump; undefined on the incoming side. */
  readonly ordinaryBar: readonly [number, number] | undefined;
  /** A run of so many equal readings is stuck; infinite where no run of the log is. */
  readonly leastStuckRows: number;
  readonly rangeBar: readonly [number, number];
}

/** The site's stated interval, else the log's own, else a second. */
export function intervalOf(columns: AnalysisColumns, site: AnalysisSite): number {
  const stated = site.intervalS !== undefined && site.intervalS > 0 ? site.intervalS : undefined;
  return stated ?? estimateIntervalS(columns.timeMs) ?? 1;
}

/**
 * The parameters of a whole log, and its readings cleaned under them (NaN where one isn't used).
 * @param ordered rows ascending in time, one a stamp
 */
export function estimateCleaning(
  { timeMs, pressureBar: readBar }: AnalysisColumns,
  intervalS: number,
  { sensor: { rangeBar, position } }: AnalysisSite,
): { readonly parameters: CleaningParameters; readonly pressureBar: Float64Array } {
  const intervalMs = intervalS * 1000;
  const pressureBar = readBar.slice();
  markOutOfRange(timeMs, pressureBar, rangeBar, intervalMs);
  const floor = noiseFloor(pressureBar);
  const ordinaryBar = position === 'incoming' ? undefined : ordinarySpan(pressureBar);
  markSpikes(timeMs, pressureBar, floor.noiseBar, floor.quantumBar, intervalMs, ordinaryBar);
  // At a pump's outlet a vessel may hold its pressure for hours; only the incoming side is expected to move.
  const stuckRows =
    position === 'pump_outlet' ? Number.POSITIVE_INFINITY : leastStuckRows(timeMs, pressureBar, intervalMs);
  markRunsOf(stuckRows, timeMs, pressureBar, intervalMs);
  return { parameters: { ...floor, intervalS, ordinaryBar, leastStuckRows: stuckRows, rangeBar }, pressureBar };
}

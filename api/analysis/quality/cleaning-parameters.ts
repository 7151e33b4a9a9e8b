import type { AnalysisColumns, AnalysisSite } from '../findings.ts';
import { estimateIntervalS } from './interval.ts';
import type { MarkedFault } from './marked-fault.ts';
import { type NoiseFloor, noiseFloor } from './noise-floor.ts';
import { markOutOfRange } from './out-of-range.ts';
import { markSpikes, ordinarySpan } from './spikes.ts';
import { leastStuckRows, markRunsOf } from './stuck.ts';
import { lowestSuctionBar } from './suction.ts';

/** What cleaning asks of the whole log: estimated once, so that rows that arrive are cleaned as those that were there. */
export interface CleaningParameters extends NoiseFloor {
  readonly intervalS: number;
  /** Span of ordinary pressures beside a pump; undefined on the incoming side. */
  readonly ordinaryBar: readonly [number, number] | undefined;
  /** A run of so many equal readings is stuck; infinite where no run of the log is. */
  readonly leastStuckRows: number;
  readonly rangeBar: readonly [number, number];
  /** The lowest reading that can be pressure; undefined: the range's own end, less a margin. */
  readonly lowestBar: number | undefined;
}

/** The site's stated interval, else the log's own, else a second. */
export function intervalOf(columns: AnalysisColumns, site: AnalysisSite): number {
  const stated = site.intervalS !== undefined && site.intervalS > 0 ? site.intervalS : undefined;
  return stated ?? estimateIntervalS(columns.timeMs) ?? 1;
}

/** A whole log, cleaned once. */
export interface CleanedLog {
  readonly parameters: CleaningParameters;
  readonly pressureBar: Float64Array;
  readonly faults: readonly MarkedFault[];
}

/**
 * The parameters of a whole log, and its readings cleaned under them (NaN where one isn't used).
 * @param ordered rows ascending in time, one a stamp
 * @param mayOverwrite nobody needs the readings as they came any more: they are cleaned where they are
 */
export function estimateCleaning(
  { timeMs, pressureBar: readBar }: AnalysisColumns,
  intervalS: number,
  { sensor: { rangeBar, position } }: AnalysisSite,
  mayOverwrite = false,
): CleanedLog {
  const intervalMs = intervalS * 1000;
  const pressureBar = mayOverwrite ? readBar : readBar.slice();
  // Before a pump a reading under the range may be suction: what isn't is marked once the pump's runs are known.
  const lowestBar = position === 'pump_inlet' ? lowestSuctionBar(rangeBar) : undefined;
  const beyond = markOutOfRange(timeMs, pressureBar, rangeBar, intervalMs, 0, lowestBar);
  const floor = noiseFloor(pressureBar);
  const ordinaryBar = position === 'incoming' ? undefined : ordinarySpan(pressureBar);
  const spikes = markSpikes(timeMs, pressureBar, floor.noiseBar, floor.quantumBar, intervalMs, ordinaryBar);
  // At a pump's outlet a vessel may hold its pressure for hours; only the incoming side is expected to move.
  const stuckRows =
    position === 'pump_outlet' ? Number.POSITIVE_INFINITY : leastStuckRows(timeMs, pressureBar, intervalMs);
  const stuck = markRunsOf(stuckRows, timeMs, pressureBar, intervalMs);
  return {
    parameters: { ...floor, intervalS, ordinaryBar, leastStuckRows: stuckRows, rangeBar, lowestBar },
    pressureBar,
    faults: [...beyond, ...spikes, ...stuck],
  };
}

import type { AnalysisColumns, AnalysisSite } from '../findings.ts';
import { findGaps, gapLimitMs, gapsOutside } from './gaps.ts';
import { estimateIntervalS } from './interval.ts';
import type { MarkedFault } from './marked-fault.ts';
import { type NoiseFloor, noiseFloor } from './noise-floor.ts';
import { orderRows } from './order-rows.ts';
import { markOutOfRange } from './out-of-range.ts';
import { markSpikes, ordinarySpan } from './spikes.ts';
import { markStuck } from './stuck.ts';

/** The log in order, one row a stamp. NaN in `pressureBar` marks a reading that isn't used; the fault list says why. */
export interface CleanSeries extends NoiseFloor {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
  readonly pumpOn: Float64Array | undefined;
  readonly inletBar: Float64Array | undefined;
  readonly intervalS: number;
  readonly faults: readonly MarkedFault[];
}

/** Order, clock, range, spikes, stuck readings, gaps: what is left is what the analysis may trust. */
export function cleanSeries(columns: AnalysisColumns, site: AnalysisSite): CleanSeries {
  const stated = site.intervalS !== undefined && site.intervalS > 0 ? site.intervalS : undefined;
  const intervalS = stated ?? estimateIntervalS(columns.timeMs) ?? 1;
  const intervalMs = intervalS * 1000;
  const ordered = orderRows(columns.timeMs, columns.pressureBar, intervalMs, gapLimitMs(intervalMs));
  const pick = (column: Float64Array) => take(column, ordered.rows);
  const timeMs = ordered.rows ? take(columns.timeMs, ordered.rows) : columns.timeMs;
  const pressureBar = pick(columns.pressureBar);
  const outOfRange = markOutOfRange(timeMs, pressureBar, site.sensor.rangeBar, intervalMs);
  const floor = noiseFloor(pressureBar);
  const besidePump = site.sensor.position !== 'incoming';
  const ordinary = besidePump ? ordinarySpan(pressureBar) : undefined;
  const spikes = markSpikes(timeMs, pressureBar, floor.noiseBar, floor.quantumBar, intervalMs, ordinary);
  // At a pump's outlet a vessel may hold its pressure for hours; only the incoming side is expected to move.
  const stuck = site.sensor.position === 'pump_outlet' ? [] : markStuck(timeMs, pressureBar, intervalMs);
  const jumps = ordered.faults.filter((fault) => fault.kind === 'clock_jump');
  const gaps = gapsOutside(findGaps(timeMs, intervalMs, jumps), site.rawErased ?? [], intervalMs);
  return {
    timeMs,
    pressureBar,
    flowLpm: columns.flowLpm && pick(columns.flowLpm),
    pumpOn: columns.pumpOn && pick(columns.pumpOn),
    inletBar: columns.inletBar && pick(columns.inletBar),
    intervalS,
    ...floor,
    faults: [...ordered.faults, ...gaps, ...outOfRange, ...spikes, ...stuck],
  };
}

/** A copy (readings are marked in place later), in the order of `rows`. */
function take(column: Float64Array, rows: Uint32Array | undefined): Float64Array {
  if (!rows) return column.slice();
  const taken = new Float64Array(rows.length);
  for (let i = 0; i < rows.length; i++) taken[i] = column[rows[i]!]!;
  return taken;
}

import type { MarkedFault } from '../quality/marked-fault.ts';
import { noiseFloor } from '../quality/noise-floor.ts';
import { markOutOfRange } from '../quality/out-of-range.ts';
import { markSpikes, ordinarySpan } from '../quality/spikes.ts';
import { lowestSuctionBar, markBelowRange } from '../quality/suction.ts';
import { type PumpRows, pumpRows } from './pump-rows.ts';

/** A run that the pressure behind the pump tells may be off by so much: its motor turns up and runs down. */
const RUN_OFF_MS = 5_000;
const RUN_OFF_INTERVALS = 1.5;

/** What is known of the transducer before the pump. */
export interface InletSensor {
  /** Undefined where it isn't known: then any pressure from a vacuum up to `topBar` may be one. */
  readonly rangeBar: readonly [number, number] | undefined;
  /** Top of the range of the transducer behind the pump, for want of another: no main stands higher. */
  readonly topBar: number;
}

export interface InletColumn {
  readonly rows: PumpRows;
  readonly faults: readonly MarkedFault[];
}

/**
 * The usable rows of a second transducer before the pump: what no pressure can be, what lies below its range while no
 * pump pulls, and single spikes are taken out and told; its noise is its own. Undefined where the column holds nothing.
 * @param runs when the pump ran, ascending
 */
export function inletColumnOf(
  timeMs: Float64Array,
  inletBar: Float64Array | undefined,
  intervalS: number,
  { rangeBar, topBar }: InletSensor,
  runs: readonly { readonly startMs: number; readonly endMs: number }[],
): InletColumn | undefined {
  if (!inletBar?.some((bar) => !Number.isNaN(bar))) return undefined;
  const bar = inletBar.slice();
  const intervalMs = intervalS * 1000;
  const range = rangeBar ?? ([0, topBar] as const);
  const offMs = Math.max(RUN_OFF_MS, RUN_OFF_INTERVALS * intervalMs);
  const running = runs.map(({ startMs, endMs }) => ({ startMs: startMs - offMs, endMs: endMs + offMs }));
  const faults = [
    ...markOutOfRange(timeMs, bar, range, intervalMs, 0, lowestSuctionBar(range)),
    ...(rangeBar ? markBelowRange(timeMs, bar, rangeBar, intervalMs, running) : []),
  ];
  const { noiseBar, quantumBar } = noiseFloor(bar);
  faults.push(...markSpikes(timeMs, bar, noiseBar, quantumBar, intervalMs, ordinarySpan(bar)));
  return {
    rows: pumpRows(timeMs, bar, intervalS, noiseBar, quantumBar),
    faults: faults.map((fault) => ({ ...fault, column: 'inlet_bar' as const })),
  };
}

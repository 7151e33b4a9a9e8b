import { recoveredBar } from './inlet-recovery.ts';
import type { PumpRows } from './pump-rows.ts';

/** A motor that is switched off turns on for seconds; what recovers later than this is the street's. */
const TURNS_ON_MS = 10_000;
/** Rows so near a start stand for the inlet before it. */
const BEFORE_MS = 30_000;

/** When a pump pulled at its inlet, in epoch milliseconds, half open. */
export interface PulledStretch {
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * Stretches in which a pump may pull its inlet down: its runs, until the inlet has recovered. Linear time.
 * @param inlet rows of the transducer before the pump
 * @param runs ascending, without an overlap
 */
export function pulledStretches(inlet: PumpRows, runs: readonly PulledStretch[]): PulledStretch[] {
  const { timeMs, calmBar, calmNoiseBar } = inlet;
  const pulled: PulledStretch[] = [];
  let row = 0;
  let idleBar = Number.NaN;
  for (const [k, run] of runs.entries()) {
    const idle = { sum: 0, rows: 0 };
    const before = Math.max(pulled.at(-1)?.endMs ?? Number.NEGATIVE_INFINITY, run.startMs - BEFORE_MS);
    for (; row < timeMs.length && timeMs[row]! < run.startMs; row++) {
      if (timeMs[row]! < before) continue;
      idle.sum += calmBar[row]!;
      idle.rows++;
    }
    if (idle.rows > 0) idleBar = idle.sum / idle.rows;
    let lowest = Number.POSITIVE_INFINITY;
    for (; row < timeMs.length && timeMs[row]! < run.endMs; row++) lowest = Math.min(lowest, calmBar[row]!);
    const latest = Math.min(run.endMs + TURNS_ON_MS, runs[k + 1]?.startMs ?? Number.POSITIVE_INFINITY);
    let endMs = run.endMs;
    for (; row < timeMs.length && timeMs[row]! < latest; row++) {
      const enough = recoveredBar(idleBar, lowest, timeMs[row]! - run.startMs, calmNoiseBar);
      if (!(calmBar[row]! < enough)) break;
      endMs = timeMs[row]! + 1;
    }
    pulled.push({ startMs: run.startMs, endMs });
  }
  return pulled;
}

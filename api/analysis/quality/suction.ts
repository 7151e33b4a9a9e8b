import type { MarkedFault } from './marked-fault.ts';
import { BEYOND_RANGE_SHARE } from './out-of-range.ts';

/** No gauge pressure lies lower than a vacuum: one standard atmosphere under nought (ISO 2533: 101 325 Pa). */
export const VACUUM_BAR = -1.01325;

/** The lowest reading before a pump that can be pressure: a vacuum, less what a transducer of this range may be off by. */
export function lowestSuctionBar(rangeBar: readonly [number, number]): number {
  return Math.min(VACUUM_BAR, rangeBar[0]) - BEYOND_RANGE_SHARE * (rangeBar[1] - rangeBar[0]);
}

/**
 * Marks readings below the measuring range by setting them to NaN, but for those beside a running pump: there a reading
 * a little under nought is suction, whatever the sensor's data sheet promises.
 * @param running when the pump may pull, ascending, half open
 */
export function markBelowRange(
  timeMs: Float64Array,
  pressureBar: Float64Array,
  rangeBar: readonly [number, number],
  intervalMs: number,
  running: readonly { readonly startMs: number; readonly endMs: number }[],
): MarkedFault[] {
  const least = rangeBar[0] - BEYOND_RANGE_SHARE * (rangeBar[1] - rangeBar[0]);
  const faults: MarkedFault[] = [];
  let next = 0;
  let open: { startMs: number; endMs: number; count: number } | undefined;
  const close = (): void => {
    if (open) faults.push({ kind: 'out_of_range', ...open, detail: 'below the measuring range' });
    open = undefined;
  };
  for (let i = 0; i < timeMs.length; i++) {
    const at = timeMs[i]!;
    while (next < running.length && running[next]!.endMs <= at) next++;
    const pulled = next < running.length && running[next]!.startMs <= at;
    if (pulled || !(pressureBar[i]! < least)) {
      close();
      continue;
    }
    open = { startMs: open?.startMs ?? at, endMs: at + intervalMs, count: (open?.count ?? 0) + 1 };
    pressureBar[i] = Number.NaN;
  }
  close();
  return faults;
}

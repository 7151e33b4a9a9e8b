import type { MarkedFault } from './marked-fault.ts';

/** A reading beyond the range by this share of it cannot be pressure: an open or a short circuit. Common practice, no source. */
export const BEYOND_RANGE_SHARE = 0.01;

/**
 * Marks what lies beyond the measuring range, or at its very top for two rows and more (saturated), by setting it to
 * NaN. Pressures at nought are a dry main and stay.
 * @param first row from which to mark; those before it are judged
 * @param lowestBar the lowest reading that can be pressure here
 */
export function markOutOfRange(
  timeMs: Float64Array,
  pressureBar: Float64Array,
  rangeBar: readonly [number, number],
  intervalMs: number,
  first = 0,
  lowestBar = rangeBar[0] - BEYOND_RANGE_SHARE * (rangeBar[1] - rangeBar[0]),
): MarkedFault[] {
  const margin = BEYOND_RANGE_SHARE * (rangeBar[1] - rangeBar[0]);
  const faults: MarkedFault[] = [];
  for (let i = first; i < timeMs.length; i++) {
    const p = pressureBar[i]!;
    if (!(p < lowestBar || p > rangeBar[1] + margin || isSaturated(pressureBar, i, rangeBar[1]))) continue;
    const from = i;
    const high = p >= rangeBar[1];
    while (i < timeMs.length && (pressureBar[i]! < lowestBar || pressureBar[i]! >= rangeBar[1])) {
      pressureBar[i++] = Number.NaN;
    }
    i = Math.max(i, from + 1);
    pressureBar[from] = Number.NaN;
    faults.push({
      kind: 'out_of_range',
      startMs: timeMs[from]!,
      endMs: timeMs[i - 1]! + intervalMs,
      count: i - from,
      detail: high ? 'above the measuring range' : 'below the measuring range',
    });
  }
  return faults;
}

function isSaturated(pressureBar: Float64Array, i: number, top: number): boolean {
  return pressureBar[i]! >= top && pressureBar[i + 1]! >= top;
}

import type { Pattern } from '../findings.ts';
import { quantileOfSorted } from '../statistics/quantile.ts';

/** The ends of the curve bend most, and what matters lies at its low end: there a thousandth is told. */
const FINE_SHARES = [0.001, 0.002, 0.005];
const SHARES = [
  0,
  ...FINE_SHARES,
  ...Array.from({ length: 99 }, (_, k) => (k + 1) / 100),
  ...FINE_SHARES.map((share) => 1 - share).reverse(),
  1,
];

/** Pressure-duration curve: for each share of the known time, the pressure that it was at or above. */
export function durationCurve(sortedBar: Float64Array): Pattern['durationCurve'] {
  if (sortedBar.length === 0) return [];
  return SHARES.map((share) => ({ share, bar: quantileOfSorted(sortedBar, 1 - share) }));
}

/**
 * Share of the known time below a threshold, and the least and most that it can be when all readings are off alike by
 * the sensor's expanded uncertainty. Undefined where nothing is known.
 * @param sortedBar known standing pressure, ascending
 * @param points of the grid in all
 * @param expandedBar of what all readings share (k = 2)
 */
export function belowThreshold(
  sortedBar: Float64Array,
  points: number,
  thresholdBar: number,
  expandedBar: number,
): Pattern['below'] {
  const known = sortedBar.length;
  if (known === 0) return undefined;
  const share = (limitBar: number) => countBelow(sortedBar, limitBar) / known;
  return {
    thresholdBar,
    share: share(thresholdBar),
    shareInterval: [share(thresholdBar - expandedBar), share(thresholdBar + expandedBar)],
    sensorBar: expandedBar,
    knownFraction: known / points,
  };
}

function countBelow(ascending: Float64Array, limit: number): number {
  let low = 0;
  let high = ascending.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle]! < limit) low = middle + 1;
    else high = middle;
  }
  return low;
}

import type { DecayBin } from './decay-bins.ts';
import type { Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/** How fast a rest decayed against the log's usual decay: natural logarithm, and its standard error. */
export interface RestRate {
  readonly log: number;
  readonly error: number;
}

/** Rows within the usual decay that a rest needs, or its rate isn't seen. */
const FEWEST_ROWS = 4;

/**
 * The rate of every rest against the usual decay of all, undefined where its rows don't show one. Each reading is turned
 * into the time at which the usual decay comes by it; against the clock these times lie on a line whose slope is the rate
 * (least squares). Unlike a rest's length it doesn't ask at which pressures the switch happened to turn, which a main that
 * rises and falls moves through the pump's run-on.
 */
export function restRates(
  rows: PumpRows,
  rests: readonly Rest[],
  bins: readonly DecayBin[],
): readonly (RestRate | undefined)[] {
  if (bins.length < 2) return rests.map(() => undefined);
  const timeOf = usualTimes(bins);
  const [low, high] = [bins[0]!.bar, bins[bins.length - 1]!.bar];
  const usualFall = Math.exp(bins[Math.floor(bins.length / 2)]!.logFall);
  return rests.map(({ fromRow, toRow }) => {
    let from = fromRow;
    while (from < toRow && rows.calmBar[from]! > high) from++;
    let to = toRow;
    while (to > from && rows.calmBar[to]! < low) to--;
    const count = to - from + 1;
    if (count < FEWEST_ROWS) return undefined;
    const zeroMs = rows.timeMs[from]!;
    let sumX = 0;
    let sumY = 0;
    let sumXX = 0;
    let sumXY = 0;
    for (let row = from; row <= to; row++) {
      const x = (rows.timeMs[row]! - zeroMs) / 1000;
      const y = timeOf(rows.bar[row]!);
      sumX += x;
      sumY += y;
      sumXX += x * x;
      sumXY += x * y;
    }
    const squares = sumXX - (sumX * sumX) / count;
    const rate = (sumXY - (sumX * sumY) / count) / squares;
    if (!(rate > 0)) return undefined;
    return { log: Math.log(rate), error: rows.noiseBar / usualFall / Math.sqrt(squares) / rate };
  });
}

/** Seconds of the usual decay from the lowest bin's pressure back up to one: straight on beyond the outermost bins. */
function usualTimes(bins: readonly DecayBin[]): (bar: number) => number {
  const bars = bins.map(({ bar }) => bar);
  const pace = bins.map(({ logFall }) => Math.exp(-logFall));
  const times = [0];
  for (let k = 1; k < bins.length; k++) {
    times.push(times[k - 1]! - ((pace[k]! + pace[k - 1]!) / 2) * (bars[k]! - bars[k - 1]!));
  }
  const last = bins.length - 1;
  return (bar) => {
    if (bar <= bars[0]!) return times[0]! + pace[0]! * (bars[0]! - bar);
    if (bar >= bars[last]!) return times[last]! - pace[last]! * (bar - bars[last]!);
    let k = 1;
    while (bars[k]! < bar) k++;
    const part = (bar - bars[k - 1]!) / (bars[k]! - bars[k - 1]!);
    return times[k - 1]! + part * (times[k]! - times[k - 1]!);
  };
}

import { type Bar, type LitresPerMinute, STANDARD_ATMOSPHERE_BAR } from '../../collector/model/units.ts';

export interface Vessel {
  readonly volumeL: number;
  /** Gauge pressure of the gas with the water side drained. */
  readonly preChargeBar: number;
}

/**
 * Water that a pressure vessel gives between cut-out and cut-in, in the unit of its volume: Boyle's law at constant
 * temperature, V·(P0/Pin − P0/Pout) with absolute pressures. Nought where the band is empty. Below its pre-charge the
 * vessel is empty and gives nothing more, so a cut-in under the pre-charge counts as the pre-charge.
 *
 * Pressures are gauge; any unit does as long as `atmosphereBar` is in the same one. Throws RangeError on a pressure at
 * or below a vacuum or a negative volume.
 */
export function drawdownLitres(
  vessel: Vessel,
  cutInBar: number,
  cutOutBar: number,
  atmosphereBar: number = STANDARD_ATMOSPHERE_BAR,
): number {
  const preCharge = absolute(vessel.preChargeBar, atmosphereBar);
  const cutIn = Math.max(absolute(cutInBar, atmosphereBar), preCharge);
  const cutOut = absolute(cutOutBar, atmosphereBar);
  if (!(vessel.volumeL >= 0)) throw new RangeError(`A vessel's volume is nought or more, not ${vessel.volumeL}.`);
  return cutOut <= cutIn ? 0 : vessel.volumeL * preCharge * (1 / cutIn - 1 / cutOut);
}

/**
 * Seconds from one start to the next at a steady demand: T = V/q + V/(Q − q). Infinite where nothing is drawn, and
 * where the demand is at least the pump's flow (it then never stops).
 */
export function cycleSeconds(usableL: number, pumpLpm: LitresPerMinute, demandLpm: LitresPerMinute): number {
  if (demandLpm <= 0 || demandLpm >= pumpLpm) return Number.POSITIVE_INFINITY;
  return 60 * (usableL / demandLpm + usableL / (pumpLpm - demandLpm));
}

/** Seconds of the shortest cycle that any demand can cause, 4·V/Q: the demand is then half the pump's flow. */
export function shortestCycleSeconds(usableL: number, pumpLpm: LitresPerMinute): number {
  return (60 * 4 * usableL) / pumpLpm;
}

/** Starts per hour at a steady demand; nought where the pump doesn't cycle. */
export function startsPerHour(usableL: number, pumpLpm: LitresPerMinute, demandLpm: LitresPerMinute): number {
  return 3600 / cycleSeconds(usableL, pumpLpm, demandLpm);
}

/** Starts per hour at the worst demand, 15·Q/V. */
export function mostStartsPerHour(usableL: number, pumpLpm: LitresPerMinute): number {
  return 3600 / shortestCycleSeconds(usableL, pumpLpm);
}

/** Usable litres a vessel must give so that no demand causes more than the given starts per hour: 15·Q/N. */
export function usableLitresFor(startsAnHour: number, pumpLpm: LitresPerMinute): number {
  return (15 * pumpLpm) / startsAnHour;
}

function absolute(gauge: Bar, atmosphere: Bar): number {
  const pressure = gauge + atmosphere;
  if (!(pressure > 0)) throw new RangeError(`A gauge pressure of ${gauge} is not above a vacuum.`);
  return pressure;
}

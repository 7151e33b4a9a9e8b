import type { Seeded } from './seeded.ts';

const BAR_PER_M = 0.0980665;

/** An outlet: an orifice above the logger, perhaps with a regulator that holds its flow. */
export interface Outlet {
  readonly lpmPerRootBar: number;
  readonly heightBar: number;
  /** Flow held above the regulator's threshold; infinite without one. */
  readonly mostLpm: number;
}

/** Someone (or a machine) draws: [startS, endS) in seconds of the log. */
export interface Opening {
  readonly outlet: Outlet;
  readonly startS: number;
  readonly endS: number;
  readonly openS: number;
  readonly closeS: number;
  readonly share: number;
  /** A thermostat hunts: depth and length of its settling. */
  readonly huntShare: number;
  readonly huntS: number;
}

/** How far an opening is open at a second, 0 to 1 and a little. */
export function openness(opening: Opening, second: number): number {
  const since = second - opening.startS + 0.5;
  const left = opening.endS - second - 0.5;
  if (since <= 0 || left <= 0) return 0;
  const edge = Math.min(1, since / opening.openS, left / opening.closeS);
  const hunt =
    1 + opening.huntShare * Math.exp(-since / opening.huntS) * Math.cos((2 * Math.PI * since) / (2.5 * opening.huntS));
  return opening.share * edge * hunt;
}

/** Flow through an outlet at a running pressure at the logger. */
export function outletLpm(outlet: Outlet, open: number, runningBar: number): number {
  const head = runningBar - outlet.heightBar;
  if (head <= 0 || open <= 0) return 0;
  return Math.min(open * outlet.lpmPerRootBar * Math.sqrt(head), open * outlet.mostLpm);
}

export interface OutletStyle {
  /** Storey heights of the house in metres above the logger. */
  readonly heightM: readonly [number, number];
  readonly regulated: number;
}

/** An outlet that passes about `lpm` at two bar. */
export function drawOutlet(chance: Seeded, style: OutletStyle, lpm: readonly [number, number]): Outlet {
  const flow = chance.between(lpm[0], lpm[1]);
  const regulated = chance.chance(style.regulated);
  return {
    lpmPerRootBar: (regulated ? 1.6 * flow : flow) / Math.sqrt(2),
    heightBar: chance.between(style.heightM[0], style.heightM[1]) * BAR_PER_M,
    mostLpm: regulated ? flow : Number.POSITIVE_INFINITY,
  };
}

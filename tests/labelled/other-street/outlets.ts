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
  /** How the flow follows the hand while it opens and closes; straight where not said. */
  readonly shape?: EdgeShape;
  /** A float valve whose flow dies away, instead of a straight closing. */
  readonly float?: boolean;
  /** From this second on a hand has changed the flow by a factor. */
  readonly hand?: { readonly atS: number; readonly by: number };
}

export type EdgeShape = 'linear' | 'smooth' | 'quick' | 'slow_end';

function shaped(edge: number, shape: EdgeShape): number {
  switch (shape) {
    case 'linear':
      return edge;
    case 'smooth':
      return edge * edge * (3 - 2 * edge);
    case 'quick':
      return Math.sqrt(edge);
    case 'slow_end':
      return edge * edge;
    default:
      return shape satisfies never;
  }
}

/** Flow of a float valve while the level comes up: it dies away, and shuts at a twentieth. */
function floatShare(left: number): number {
  const end = Math.exp(-3);
  return (Math.exp(-3 * (1 - left)) - end) / (1 - end);
}

/** How far an opening is open at a second, 0 to 1 and a little. */
export function openness(opening: Opening, second: number): number {
  const since = second - opening.startS + 0.5;
  const left = opening.endS - second - 0.5;
  if (since <= 0 || left <= 0) return 0;
  const closing = Math.min(1, left / opening.closeS);
  const straight = Math.min(1, since / opening.openS, opening.float ? floatShare(closing) : closing);
  const hand = opening.hand && second >= opening.hand.atS ? opening.hand.by : 1;
  const edge = hand * (opening.shape && !opening.float ? shaped(straight, opening.shape) : straight);
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

/**
 * How the fall of pressure that a tap causes follows the pressure at it. From the tap's law Q = c·√(p − h) and the
 * pipe's ΔP = k·Q^1.852 (Hazen–Williams; reference: hydraulics, 4.3) the fall is D = K·(p − h)^0.926, where p is the
 * running pressure and h the outlet's height as pressure. K changes at sharp edges only.
 */
export interface TapLaw {
  /** Height of the outlet above the logger, as pressure. */
  readonly heightBar: number;
  readonly exponent: number;
}

/** An outlet about 1.5 m above the logger on a pipe in turbulent flow, until the log itself says otherwise. */
export const USUAL_TAP_LAW: TapLaw = { heightBar: 0.15, exponent: 0.926 };

/** A hose or a pool, filled at about the logger's own height. */
export const GROUND_TAP_LAW: TapLaw = { heightBar: 0, exponent: 0.926 };

/** Below this head above the outlet next to nothing flows; keeps the ratio finite. */
const LEAST_HEAD_BAR = 0.02;

/** By how much a draw's fall changes while the running pressure drifts from one value to another. */
export function fallRatio(fromBar: number, toBar: number, law: TapLaw): number {
  const from = Math.max(LEAST_HEAD_BAR, fromBar - law.heightBar);
  const to = Math.max(LEAST_HEAD_BAR, toBar - law.heightBar);
  return (to / from) ** law.exponent;
}

import type { Seeded } from './seeded.ts';

/** Loss of pressure (bar) along the service pipe at a flow (l/min). */
export type PipeLoss = (flowLpm: number) => number;

const WATER_KG_M3 = 999.7;
const VISCOSITY_M2_S = 1.3063e-6;
const STANDARD_GRAVITY = 9.80665;

/**
 * Darcy–Weisbach with Colebrook–White (laminar under Re 2000, blended to 4000) and minor losses, as a table in steps of
 * 0.05 l/min that is read in between. Reference values 4.4 and 4.6; water at 10 °C.
 */
export function darcyPipe(lengthM: number, boreMm: number, roughnessMm: number, fittingsK: number): PipeLoss {
  const bore = boreMm / 1000;
  const area = (Math.PI * bore * bore) / 4;
  const table = Float64Array.from({ length: 1601 }, (_, step) => {
    const speed = (0.05 * step) / 60_000 / area;
    const friction = frictionFactor((speed * bore) / VISCOSITY_M2_S, roughnessMm / boreMm);
    const headM = (((friction * lengthM) / bore + fittingsK) * (speed * speed)) / (2 * STANDARD_GRAVITY);
    return (headM * WATER_KG_M3 * STANDARD_GRAVITY) / 1e5;
  });
  return (flowLpm) => {
    const step = Math.min(1599, Math.floor(flowLpm / 0.05));
    return table[step]! + (flowLpm / 0.05 - step) * (table[step + 1]! - table[step]!);
  };
}

export function frictionFactor(reynolds: number, relativeRoughness: number): number {
  if (reynolds < 1) return 64;
  if (reynolds <= 2000) return 64 / reynolds;
  if (reynolds < 4000) {
    const share = (reynolds - 2000) / 2000;
    return (1 - share) * (64 / 2000) + share * frictionFactor(4000, relativeRoughness);
  }
  let root = 8;
  for (let round = 0; round < 12; round++) {
    root = -2 * Math.log10(relativeRoughness / 3.7 + (2.51 * root) / reynolds);
  }
  return 1 / (root * root);
}

/** A measured curve k·Qⁿ through the fall at 10 l/min. */
export function powerPipe(barAt10Lpm: number, exponent: number): PipeLoss {
  return (flowLpm) => barAt10Lpm * (flowLpm / 10) ** exponent;
}

/** From 8 m of 20.4 mm to 40 m of 15.4 mm, old lead and scaled iron among them. */
export function drawPipe(chance: Seeded): PipeLoss {
  const kind = chance.pick(['pe25', 'pe20', 'lead', 'iron', 'measured', 'measured'] as const);
  const length = chance.between(8, 35);
  const fittings = chance.between(4, 25);
  if (kind === 'pe25') return darcyPipe(length, 20.4, 0.0015, fittings + 25);
  if (kind === 'pe20') return darcyPipe(length, 15.4, 0.0015, fittings);
  if (kind === 'lead') return darcyPipe(chance.between(6, 18), chance.pick([12.7, 11, 15.9]), 0.0015, fittings);
  if (kind === 'iron') return darcyPipe(chance.between(6, 15), 16.1, chance.between(0.15, 0.6), fittings);
  return powerPipe(chance.betweenLog(0.08, 0.5), chance.between(1.6, 2));
}

/** Narrow: a bath tap takes half of two bar. */
export function drawOldPipe(chance: Seeded): PipeLoss {
  return chance.chance(0.5)
    ? darcyPipe(chance.between(14, 30), chance.between(11.5, 13.5), chance.between(0.0015, 0.1), chance.between(10, 30))
    : powerPipe(chance.between(0.35, 0.8), chance.between(1.65, 2));
}

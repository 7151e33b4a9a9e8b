import { type BoosterPlan, drawdownLitres } from './booster.ts';
import type { HouseholdPlan } from './household.ts';
import { pipeThatLoses, type ServicePipes } from './plumbing.ts';
import type { RandomStream } from './random.ts';
import { converterStepBar, type SensorPlan } from './sensor.ts';
import type { RecurringFall, Span, StreetPlan } from './street.ts';

/*
 * Parts of scenarios with their sizes drawn from wide ranges. The ranges are our choice about published figures: networks of
 * 1.4 to 6.5 bar, service pipes that lose 0.03 to 0.25 bar at 9 l/min (20 m of 20 mm pipe: 0.13), converters of 10 and 12
 * bits. No two seeds give the same house.
 */

export function drawnStreet(
  random: RandomStream,
  seed: number,
  timeZone: string,
  base: Span,
  swing: Span,
  changes: Partial<StreetPlan> = {},
): StreetPlan {
  return {
    seed,
    timeZone,
    baseBar: random.uniform(...base),
    diurnalSwingBar: random.uniform(...swing),
    dayVariation: random.uniform(0.03, 0.1),
    noise: [
      { correlationS: random.uniform(1.5, 8), sdBar: random.uniform(0.001, 0.006) },
      { correlationS: random.uniform(60, 300), sdBar: random.uniform(0.004, 0.015) },
      { correlationS: random.uniform(1800, 5400), sdBar: random.uniform(0.008, 0.03) },
    ],
    recurring: [],
    single: [],
    lasting: [],
    ...changes,
  };
}

/** A sag as streets make them: edges of a quarter to three quarters of an hour. */
export function sag(hours: Span, fallBar: Span, rule: Partial<RecurringFall> = {}): RecurringFall {
  return {
    days: 'weekdays',
    probability: 1,
    startHour: hours,
    heldHours: [0.6, 2],
    edgeHours: [0.25, 0.75],
    fall: { kind: 'by', bar: fallBar },
    ...rule,
  };
}

export const MORNING: Span = [5.3, 6.6];
export const EVENING: Span = [17.2, 18.6];

export function drawnHousehold(
  random: RandomStream,
  seed: number,
  designBar: number,
  changes: Partial<HouseholdPlan> = {},
): HouseholdPlan {
  return {
    seed,
    people: random.integer(2, 4),
    region: random.pick(['NL', 'UK'] as const),
    designBar: Math.max(0.5, designBar),
    upstairsBar: random.uniform(0.2, 0.4),
    gardenTap: random.chance(0.58),
    eagerness: 1,
    longDraws: [],
    ...changes,
  };
}

/** A pipe of the house's own that loses so much at 9 l/min; the exponent differs from house to house. */
export function drawnPipes(random: RandomStream, lossAtNine: Span = [0.04, 0.22]): ServicePipes {
  return {
    shared: undefined,
    own: pipeThatLoses(random.uniform(...lossAtNine), 9, random.uniform(1.75, 2)),
  };
}

/** A pipe whose first part also serves the neighbour. */
export function drawnSharedPipes(random: RandomStream): ServicePipes {
  return {
    shared: pipeThatLoses(random.uniform(0.06, 0.2), 9, random.uniform(1.75, 1.95)),
    own: pipeThatLoses(random.uniform(0.03, 0.1), 9, random.uniform(1.75, 1.95)),
  };
}

export function soundSensor(random: RandomStream, changes: Partial<SensorPlan> = {}): SensorPlan {
  const rangeBar = random.pick([
    [0, 10],
    [0, 6],
  ] as const);
  const accuracyBar = rangeBar[1] * random.uniform(0.004, 0.01);
  return {
    rangeBar,
    accuracyBar: Math.round(accuracyBar * 1000) / 1000,
    offsetBar: random.uniform(-0.3, 0.3) * accuracyBar,
    noiseBar: random.uniform(0.001, 0.006),
    stepBar: random.chance(0.5) ? 0.001 : converterStepBar(rangeBar, 12),
    ...changes,
  };
}

export function cheapSensor(random: RandomStream): SensorPlan {
  return {
    rangeBar: [0, 10],
    accuracyBar: 0.1,
    offsetBar: random.uniform(-0.05, 0.05),
    noiseBar: random.pick([0.002, 0.015, 0.03, 0.05]),
    stepBar: converterStepBar([0, 10], 10),
  };
}

/** A sound booster: band of 1.0 to 1.6 bar, vessel with its pre-charge a little under cut-in. */
export function drawnBooster(random: RandomStream, changes: Partial<BoosterPlan> = {}): BoosterPlan {
  const cutInBar = random.uniform(1.8, 2.6);
  const cutOutBar = cutInBar + random.uniform(1, 1.6);
  return {
    shutOffBar: cutOutBar + random.uniform(0.3, 1.2),
    runOutLpm: random.uniform(24, 42),
    spinUpS: random.uniform(0.4, 1.2),
    cutInBar,
    cutOutBar,
    switchDelayS: random.uniform(0.1, 0.6),
    vesselLitres: random.pick([8, 18, 24]),
    preChargeBar: cutInBar - 0.2,
    airShare: 1,
    leakCoefficient: 0,
    checkValveCoefficient: 0,
    dryRunBar: undefined,
    ...changes,
  };
}

/** The same booster with water lost behind it so fast that it falls from cut-out to cut-in in about `minutes`. */
export function leaking(plan: BoosterPlan, minutes: number): BoosterPlan {
  return { ...plan, leakCoefficient: lossLpm(plan, minutes) / Math.sqrt((plan.cutInBar + plan.cutOutBar) / 2) };
}

/** The same with a check valve that lets the water back to the street. */
export function passingBack(plan: BoosterPlan, minutes: number, streetBar: number): BoosterPlan {
  const differenceBar = Math.max(0.2, (plan.cutInBar + plan.cutOutBar) / 2 - streetBar);
  return { ...plan, checkValveCoefficient: lossLpm(plan, minutes) / Math.sqrt(differenceBar) };
}

function lossLpm(plan: BoosterPlan, minutes: number): number {
  return drawdownLitres(plan.vesselLitres * plan.airShare, plan.preChargeBar, plan.cutInBar, plan.cutOutBar) / minutes;
}

import type { CyclingCause } from '../../../api/analysis/findings.ts';
import type { RigHouse, RigPlan } from './booster-rig.ts';
import { rigDemand } from './rig-demand.ts';
import { RigRandom } from './rig-random.ts';

/** `flow` is the household's draws, `pump flow` what a meter between the pump and its vessel shows. */
export type RigChannel = 'flow' | 'pump flow' | 'pump' | 'inlet';

export interface RigScenario {
  readonly family: string;
  readonly seed: number;
  readonly house: RigHouse;
  readonly position: 'pump_outlet' | 'pump_inlet';
  readonly channels: readonly RigChannel[];
  /** What every episode should name first; undefined where the plant is sound or the cause is open. */
  readonly cause: CyclingCause | undefined;
  readonly boosterAtS: number | undefined;
}

interface Family {
  readonly name: string;
  readonly intervalS?: number;
  readonly days?: number;
  readonly position?: 'pump_inlet';
  readonly channels?: readonly RigChannel[];
  readonly fault?:
    | 'leak'
    | 'night_leak'
    | 'valve'
    | 'precharge'
    | 'fast_precharge'
    | 'narrow'
    | 'dry'
    | 'no_vessel'
    | 'fitted'
    | 'wear'
    | 'no_start'
    | 'no_stop';
  readonly weakStreet?: boolean;
}

export const RIG_FAMILIES: readonly Family[] = [
  { name: 'sound' },
  { name: 'sound, pump channel', channels: ['pump'] },
  { name: 'sound, flow channel', channels: ['flow'] },
  { name: 'sound, no vessel', fault: 'no_vessel' },
  { name: 'sound, 10 s', intervalS: 10 },
  { name: 'sound, 60 s', intervalS: 60, days: 4 },
  { name: 'sound, 60 s, pump channel', intervalS: 60, days: 4, channels: ['pump'] },
  { name: 'leak', fault: 'leak' },
  { name: 'leak, some nights', fault: 'night_leak', days: 4 },
  { name: 'leak, flow channel', fault: 'leak', channels: ['flow'] },
  { name: 'leak, pump channel', fault: 'leak', channels: ['pump'] },
  { name: 'leak, 10 s', fault: 'leak', intervalS: 10, days: 4 },
  { name: 'leak, 10 s, flow and pump', fault: 'leak', intervalS: 10, days: 4, channels: ['flow', 'pump'] },
  { name: 'leak, 60 s', fault: 'leak', intervalS: 60, days: 4 },
  { name: 'valve', fault: 'valve' },
  { name: 'valve, inlet column', fault: 'valve', channels: ['inlet'] },
  { name: 'valve, pump channel', fault: 'valve', channels: ['pump'] },
  { name: 'valve, 10 s', fault: 'valve', intervalS: 10, days: 4 },
  { name: 'pre-charge', fault: 'precharge' },
  { name: 'pre-charge, pump channel', fault: 'precharge', channels: ['pump'] },
  { name: 'pre-charge, 10 s', fault: 'precharge', intervalS: 10, days: 4 },
  { name: 'narrow', fault: 'narrow' },
  { name: 'narrow, pump channel', fault: 'narrow', channels: ['pump'] },
  { name: 'dry spells', fault: 'dry' },
  { name: 'fitted, 10 s', fault: 'fitted', intervalS: 10, days: 8 },
  { name: 'weak inlet column', weakStreet: true, channels: ['inlet'] },
  { name: 'weak inlet column, pump channel, 10 s', weakStreet: true, intervalS: 10, channels: ['inlet', 'pump'] },
  { name: 'weak inlet, at the inlet', weakStreet: true, position: 'pump_inlet' },
  { name: 'weak inlet, at the inlet, pump channel', weakStreet: true, position: 'pump_inlet', channels: ['pump'] },
  { name: 'weak inlet, at the inlet, 10 s', weakStreet: true, position: 'pump_inlet', intervalS: 10 },
  // New families stand at the end: a family's place seeds it.
  { name: 'leak, inlet column', fault: 'leak', channels: ['inlet'] },
  { name: 'valve, flow channel', fault: 'valve', channels: ['flow'] },
  { name: 'valve, 60 s', fault: 'valve', intervalS: 60, days: 4 },
  { name: 'valve, inlet column, 10 s', fault: 'valve', intervalS: 10, days: 4, channels: ['inlet'] },
  { name: 'narrow, 10 s', fault: 'narrow', intervalS: 10, days: 4 },
  { name: 'weak inlet column, 60 s', weakStreet: true, intervalS: 60, days: 4, channels: ['inlet', 'pump'] },
  { name: 'slow wear, 10 s', fault: 'wear', intervalS: 10, days: 18 },
  { name: 'does not start', fault: 'no_start' },
  { name: 'does not start, pump channel', fault: 'no_start', channels: ['pump'] },
  { name: 'does not stop, pump channel', fault: 'no_stop', channels: ['pump'] },
  { name: 'dry spells, pump channel', fault: 'dry', channels: ['pump'] },
  { name: 'narrow, 60 s', fault: 'narrow', intervalS: 60, days: 4 },
  { name: 'pre-charge, 60 s', fault: 'precharge', intervalS: 60, days: 4 },
  { name: 'pre-charge faster than the sampling, 10 s', fault: 'fast_precharge', intervalS: 10, days: 4 },
  { name: 'fitted', fault: 'fitted', days: 7 },
  { name: 'fitted, 60 s', fault: 'fitted', intervalS: 60, days: 8 },
  { name: 'weak inlet, meter on the pump’s line', weakStreet: true, position: 'pump_inlet', channels: ['pump flow'] },
  {
    name: 'leak, at the inlet, meter on the pump’s line, 10 s',
    fault: 'leak',
    position: 'pump_inlet',
    intervalS: 10,
    channels: ['pump flow'],
  },
  {
    name: 'sound, at the inlet, meter on the pump’s line, 60 s',
    position: 'pump_inlet',
    intervalS: 60,
    days: 4,
    channels: ['pump flow'],
  },
  { name: 'leak, meter on the pump’s line', fault: 'leak', channels: ['pump flow'] },
  { name: 'pre-charge, meter on the pump’s line', fault: 'precharge', channels: ['pump flow'] },
  { name: 'leak, meter on the pump’s line, 10 s', fault: 'leak', intervalS: 10, days: 4, channels: ['pump flow'] },
];

/** How far from the usual plant: `wide` in sizes and waits, `far` in the laws by which water is lost and in the street too. */
export const RIG_BREADTHS = ['usual', 'wide', 'far'] as const;
export type RigBreadth = (typeof RIG_BREADTHS)[number];

/** When in the log a pump fails, in days, and for how many seconds each time. */
const FAILING_DAYS = [0.35, 0.8, 1.4] as const;
const FAILING_S = { dry: [600, 2400], no_start: [3_600, 14_400], no_stop: [2_400, 7_200] } as const;

export function rigScenario(family: Family, seed: number, breadth: RigBreadth = 'usual'): RigScenario {
  const wide = breadth !== 'usual';
  const random = new RigRandom(seed * 1009 + 17 * RIG_FAMILIES.indexOf(family));
  const days = family.days ?? 2;
  const streetBar = family.weakStreet ? random.uniform(0.35, 1) : random.logUniform(0.5, 3);
  const swingBar = random.uniform(0.05, family.weakStreet ? 0.35 : 0.6) * Math.min(1, streetBar);
  const serviceLossBar = family.weakStreet
    ? random.uniform(0.15, 0.5)
    : random.uniform(0.05, 0.3) * Math.min(1, streetBar);
  const sound = wide ? widePlan(random, streetBar) : soundPlan(random, streetBar);
  const lossy = breadth === 'far' ? otherLaws(random, sound) : sound;
  const failing = failingPlan(random, family.fault, lossy, streetBar);
  const daySeconds = 86_400;
  const stages = [{ fromS: 0, plan: sound }];
  let boosterAtS: number | undefined;
  switch (family.fault) {
    case undefined:
      break;
    case 'no_vessel':
      stages[0] = { fromS: 0, plan: failing };
      break;
    case 'night_leak':
      for (let day = 1; day < days; day += 2) {
        stages.push({ fromS: (day - random.uniform(0.04, 0.1)) * daySeconds, plan: failing });
        stages.push({ fromS: (day + random.uniform(0.2, 0.3)) * daySeconds, plan: sound });
      }
      break;
    case 'dry':
    case 'no_start':
    case 'no_stop':
      for (const at of FAILING_DAYS) {
        const [shortestS, longestS] = FAILING_S[family.fault];
        stages.push({ fromS: at * daySeconds, plan: failing });
        stages.push({ fromS: at * daySeconds + random.uniform(shortestS, longestS), plan: sound });
      }
      break;
    case 'fitted':
      boosterAtS = random.uniform(0.42, 0.58) * days * daySeconds;
      stages[0] = { fromS: 0, plan: { ...sound, present: false } };
      stages.push({ fromS: boosterAtS, plan: sound });
      break;
    case 'wear':
      for (let day = 1; day < days; day++) stages.push({ fromS: day * daySeconds, plan: wornPlan(failing, day) });
      break;
    case 'leak':
    case 'valve':
    case 'precharge':
    case 'fast_precharge':
    case 'narrow':
      stages.push({ fromS: random.uniform(0.1, 0.5) * days * daySeconds, plan: failing });
      break;
    default:
      family.fault satisfies never;
  }
  const intervalS = family.intervalS ?? 1;
  const rangeBar = random.pick([6, 10, 10]);
  const bits = random.pick([0, 0, 10, 12, 12]);
  const stepped = bits === 0 ? 0 : rangeBar / 2 ** bits;
  const quantumBar = wide && random.chance(0.3) ? random.logUniform(0.001, 0.05) : stepped;
  const noisiestBar = breadth === 'far' ? 0.08 : 0.05;
  const calm = breadth === 'far' && random.chance(0.4);
  return {
    family: family.name,
    seed,
    house: {
      days,
      intervalS,
      stages,
      draws: rigDemand(random, days, random.pick([1, 2, 2, 3, 4])),
      streetBar,
      swingBar: calm ? 0.2 * swingBar : swingBar,
      serviceLossBar,
      noiseBar: random.logUniform(0.001, noisiestBar),
      quantumBar,
      inletQuantumBar: quantumBar,
    },
    position: family.position ?? 'pump_outlet',
    channels: family.channels ?? [],
    cause: causeOf(family.fault),
    boosterAtS,
  };
}

function causeOf(fault: Family['fault']): CyclingCause | undefined {
  switch (fault) {
    case 'leak':
    case 'night_leak':
      return 'leak';
    case 'valve':
      return 'check_valve';
    case 'precharge':
    case 'fast_precharge':
      return 'lost_precharge';
    case 'narrow':
      return 'narrow_differential';
    default:
      return undefined;
  }
}

function soundPlan(random: RigRandom, streetBar: number): RigPlan {
  const cutInBar = Math.max(streetBar + 0.2, random.uniform(1.2, 2.8));
  const bandBar = random.uniform(0.7, 2);
  const cutOutBar = cutInBar + bandBar;
  const vesselL = random.logUniform(4, 60);
  return {
    cutInBar,
    cutOutBar,
    onDelayS: random.chance(0.5) ? 0 : random.uniform(0, 1.5),
    offDelayS: random.chance(0.5) ? 0 : random.uniform(0, 2),
    shutOffBar: cutOutBar - 0.3 * streetBar + random.uniform(0.3, 1.5),
    runOutLpm: random.logUniform(18, 80),
    curveBend: random.uniform(1.4, 2.6),
    spinUpS: random.uniform(0.15, 0.8),
    vesselL,
    preChargeBar: cutInBar * random.uniform(0.75, 0.97),
    polytropic: random.uniform(1, 1.2),
    pipesLPerBar: random.logUniform(0.006, 0.05),
    leakLpm: 0,
    leakPower: random.uniform(0.5, 1),
    valveLpm: 0,
    valvePower: random.uniform(0.5, 1),
    dry: false,
    present: true,
  };
}

/** Plants further from the usual: small vessels, slow spin-ups, long waits, warm gas, a transducer away from the vessel. */
function widePlan(random: RigRandom, streetBar: number): RigPlan {
  const usual = soundPlan(random, streetBar);
  const cutOutBar = usual.cutInBar + random.uniform(0.5, 2.5);
  return {
    ...usual,
    cutOutBar,
    shutOffBar: cutOutBar - 0.3 * streetBar + random.uniform(0.3, 2.5),
    vesselL: random.logUniform(2, 60),
    spinUpS: random.logUniform(0.1, 2.5),
    onDelayS: random.chance(0.4) ? 0 : random.uniform(0, 3),
    offDelayS: random.chance(0.4) ? 0 : random.uniform(0, 3),
    sensorLossBar: random.chance(0.4) ? random.logUniform(0.01, 0.25) : 0,
    coolsS: random.chance(0.5) ? random.logUniform(5, 90) : 0,
  };
}

/** Losses by other laws: from an orifice to worse than friction, a leak that ends above the transducer's height. */
function otherLaws(random: RigRandom, sound: RigPlan): RigPlan {
  return {
    ...sound,
    leakPower: random.uniform(0.5, 1.2),
    leakEndBar: random.chance(0.5) ? random.uniform(-0.1, 0.6) : 0,
    valvePower: random.uniform(0.5, 1.2),
    polytropic: random.uniform(1, 1.3),
  };
}

function failingPlan(random: RigRandom, fault: Family['fault'], sound: RigPlan, streetBar: number): RigPlan {
  switch (fault) {
    case 'leak':
    case 'night_leak':
      // Enough that the pump starts within twenty minutes: a smaller one is no cycling by definition.
      return { ...sound, leakLpm: Math.max(random.logUniform(0.05, 2), drawdownLitres(sound) / random.uniform(4, 14)) };
    case 'valve': {
      const drive = ((sound.cutInBar + sound.cutOutBar) / 2 - streetBar) / 3;
      const least = drawdownLitres(sound) / random.uniform(3, 10) / drive ** sound.valvePower;
      return { ...sound, valveLpm: Math.max(random.logUniform(0.05, 3), least) };
    }
    case 'precharge':
      return random.chance(0.5)
        ? { ...sound, vesselL: sound.vesselL * random.uniform(0.01, 0.06) }
        : { ...sound, vesselL: sound.vesselL * random.uniform(0.03, 0.12), preChargeBar: random.uniform(0, 0.5) };
    case 'narrow':
      return {
        ...sound,
        vesselL: random.uniform(0.5, 4),
        cutOutBar: sound.cutInBar + random.uniform(0.15, 0.35),
        onDelayS: 0,
        offDelayS: 0,
      };
    case 'fast_precharge':
      // Hardly more than the pipes: the band is used up and filled within a second or two at any draw.
      return { ...sound, vesselL: 0.05, onDelayS: 0, offDelayS: 0, spinUpS: 0.2, pipesLPerBar: 0.01 };
    case 'no_start':
      return { ...sound, neverStarts: true };
    case 'no_stop':
      return { ...sound, neverStops: true };
    case 'wear':
      return {
        ...sound,
        dailyWear: random.uniform(0.004, 0.012),
        dailyDriftBar: random.chance(0.5) ? random.uniform(0.004, 0.012) : 0,
      };
    case 'no_vessel':
      return { ...sound, vesselL: 0.3, noFlowStopS: random.uniform(4, 12), offDelayS: 0 };
    case 'dry':
      return { ...sound, dry: true };
    case 'fitted':
    case undefined:
      return sound;
    default:
      return fault satisfies never;
  }
}

/** After so many days a worn pump gives less at every head, and its switch may have drifted. */
function wornPlan(plan: RigPlan, day: number): RigPlan {
  const { dailyWear = 0, dailyDriftBar = 0 } = plan;
  return {
    ...plan,
    runOutLpm: plan.runOutLpm * (1 - dailyWear) ** day,
    cutOutBar: plan.cutOutBar - dailyDriftBar * day,
  };
}

/** What the sound vessel gives between the switch's levels, by Boyle's law. */
function drawdownLitres(plan: RigPlan): number {
  const from = Math.max(plan.cutInBar, plan.preChargeBar) + 1.01325;
  return plan.vesselL * (plan.preChargeBar + 1.01325) * (1 / from - 1 / (plan.cutOutBar + 1.01325));
}

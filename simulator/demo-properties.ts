import type { Channel, Position } from '../collector/model/channel.ts';
import { DEFAULT_THRESHOLDS, type Thresholds } from '../collector/model/site.ts';
import { type BoosterPlan, drawdownLitres } from './booster.ts';
import type { HousePlan } from './house.ts';
import type { HouseholdPlan } from './household.ts';
import { LocalCalendar } from './local-day.ts';
import { pipeThatLoses } from './plumbing.ts';
import type { StreetPlan } from './street.ts';

/** One channel of a demo logger, with what the logger's settings say of it. */
export interface DemoChannel {
  readonly channel: Channel;
  readonly unit: string;
  readonly rangeBar?: readonly [number, number];
  readonly accuracyBar?: number;
}

export interface DemoLogger {
  readonly id: string;
  readonly position: Position;
  readonly heightAboveSupplyPointM: number;
  readonly channels: readonly DemoChannel[];
}

/** An invented property of the demonstration. */
export interface DemoProperty {
  readonly siteId: string;
  readonly name: string;
  readonly timeZone: string;
  readonly thresholds: Thresholds;
  /** What there is to see, in a sentence. */
  readonly summary: string;
  readonly loggers: readonly DemoLogger[];
  readonly noiseBar: number;
  readonly offsetBar: number;
  readonly seed: number;
  /** The house; `plannedAtMs` is the moment the demonstration was first started, from which its events are counted. */
  plan(plannedAtMs: number): HousePlan;
}

const ZONE = 'Europe/London';
const DAY_MS = 86_400_000;
/** Bar of a 6 bar transducer of half a per cent, compared with a gauge when it was fitted. */
const GOOD: DemoChannel = { channel: 'pressure', unit: 'bar', rangeBar: [0, 6], accuracyBar: 0.03 };
const ORDINARY: DemoChannel = { channel: 'pressure', unit: 'bar', rangeBar: [0, 10], accuracyBar: 0.1 };
const PUMP: DemoChannel = { channel: 'pump', unit: 'on/off' };

const RESTLESS = [
  { correlationS: 4, sdBar: 0.003 },
  { correlationS: 150, sdBar: 0.008 },
  { correlationS: 3600, sdBar: 0.015 },
] as const;

/** Houses of invented streets. Nobody lives there. */
export function demoProperties(): readonly DemoProperty[] {
  return PROPERTIES;
}

const PROPERTIES: readonly DemoProperty[] = [
  {
    siteId: 'demo-12-sample-row',
    name: '12 Sample Row',
    timeZone: ZONE,
    thresholds: DEFAULT_THRESHOLDS,
    summary: 'A street of 1.5 bar that falls under 0.7 bar on weekday mornings.',
    loggers: [{ id: 'sample-row-12', position: 'incoming', heightAboveSupplyPointM: 0, channels: [GOOD] }],
    noiseBar: 0.004,
    offsetBar: 0.006,
    seed: 1201,
    plan: () => ({
      ...house(1201, {
        baseBar: 1.55,
        diurnalSwingBar: 0.12,
        recurring: [
          {
            days: 'weekdays',
            probability: 0.93,
            startHour: [5.9, 6.3],
            heldHours: [1.1, 1.7],
            edgeHours: [0.3, 0.6],
            fall: { kind: 'to', bar: [0.36, 0.58] },
          },
          {
            days: 'all',
            probability: 0.25,
            startHour: [17.6, 18.4],
            heldHours: [0.4, 1],
            edgeHours: [0.3, 0.6],
            fall: { kind: 'to', bar: [0.85, 1.1] },
          },
        ],
      }),
      household: household(1201, { people: 3, designBar: 1.25, region: 'UK' }),
    }),
  },
  {
    siteId: 'demo-3-model-terrace',
    name: '3 Model Terrace',
    timeZone: ZONE,
    thresholds: DEFAULT_THRESHOLDS,
    summary: 'A good supply and a busy family: every dip is their own.',
    loggers: [{ id: 'model-terrace-3', position: 'incoming', heightAboveSupplyPointM: 0.4, channels: [ORDINARY] }],
    noiseBar: 0.005,
    offsetBar: -0.01,
    seed: 301,
    plan: () => ({
      ...house(301, { baseBar: 3.1, diurnalSwingBar: 0.14 }),
      pipes: { shared: undefined, own: pipeThatLoses(0.24, 9, 1.83) },
      household: household(301, {
        people: 6,
        designBar: 2.6,
        eagerness: 1.4,
        longDraws: [{ use: 'hose', probability: 0.2, startHour: [16, 19], minutes: [20, 50], flowLpm: [11, 15] }],
      }),
    }),
  },
  {
    siteId: 'demo-7-pattern-lane',
    name: '7 Pattern Lane',
    timeZone: ZONE,
    thresholds: DEFAULT_THRESHOLDS,
    summary:
      'A booster that has begun to start with nobody drawing: something leaks. A second logger watches its inlet.',
    loggers: [
      {
        id: 'pattern-lane-7-outlet',
        position: 'pump_outlet',
        heightAboveSupplyPointM: 0.3,
        channels: [ORDINARY, PUMP],
      },
      { id: 'pattern-lane-7-inlet', position: 'pump_inlet', heightAboveSupplyPointM: 0.3, channels: [GOOD, PUMP] },
    ],
    noiseBar: 0.005,
    offsetBar: 0.008,
    seed: 701,
    plan: (plannedAtMs) => ({
      ...house(701, {
        baseBar: 1.15,
        diurnalSwingBar: 0.15,
        recurring: [
          {
            days: 'weekdays',
            probability: 0.5,
            startHour: [6.2, 6.9],
            heldHours: [0.5, 1],
            edgeHours: [0.3, 0.5],
            fall: { kind: 'to', bar: [0.32, 0.5] },
          },
        ],
      }),
      household: household(701, { people: 3, designBar: 2.7, region: 'NL' }),
      position: 'pump_outlet',
      booster: [
        { fromMs: 0, plan: BOOSTER },
        { fromMs: daysBefore(plannedAtMs, 4, 21), plan: leakingIn(BOOSTER, 5.5) },
      ],
    }),
  },
  {
    siteId: 'demo-21-pattern-lane',
    name: '21 Pattern Lane',
    timeZone: ZONE,
    thresholds: DEFAULT_THRESHOLDS,
    summary: 'A booster whose vessel has lost its air: it chatters while water runs. Only the pump’s outlet is logged.',
    loggers: [{ id: 'pattern-lane-21', position: 'pump_outlet', heightAboveSupplyPointM: 0.2, channels: [ORDINARY] }],
    noiseBar: 0.005,
    offsetBar: -0.006,
    seed: 2101,
    plan: (plannedAtMs) => ({
      ...house(2101, { baseBar: 1.3, diurnalSwingBar: 0.12 }),
      household: household(2101, { people: 2, designBar: 2.7, region: 'NL' }),
      position: 'pump_outlet',
      booster: [
        { fromMs: 0, plan: BOOSTER },
        { fromMs: daysBefore(plannedAtMs, 6, 12), plan: { ...BOOSTER, airShare: 0.05 } },
      ],
    }),
  },
];

const BOOSTER: BoosterPlan = {
  shutOffBar: 3.5,
  runOutLpm: 32,
  spinUpS: 0.8,
  cutInBar: 2,
  cutOutBar: 3.2,
  switchDelayS: 0.3,
  vesselLitres: 18,
  preChargeBar: 1.8,
  airShare: 1,
  leakCoefficient: 0,
  checkValveCoefficient: 0,
  dryRunBar: undefined,
};

function house(seed: number, street: Partial<StreetPlan>): Omit<HousePlan, 'household'> {
  return {
    timeZone: ZONE,
    street: {
      seed,
      timeZone: ZONE,
      baseBar: 2,
      diurnalSwingBar: 0.12,
      dayVariation: 0.06,
      noise: RESTLESS,
      recurring: [],
      single: [],
      lasting: [],
      ...street,
    },
    neighbour: undefined,
    pipes: { shared: undefined, own: pipeThatLoses(0.09, 9, 1.83) },
    throttled: undefined,
    ringBarPerLpmS: 0.012,
    position: 'incoming',
    booster: [],
  };
}

function household(seed: number, changes: Partial<HouseholdPlan>): HouseholdPlan {
  return {
    seed,
    people: 3,
    region: 'UK',
    designBar: 2,
    upstairsBar: 0.28,
    gardenTap: true,
    eagerness: 1,
    longDraws: [],
    ...changes,
  };
}

function leakingIn(plan: BoosterPlan, minutes: number): BoosterPlan {
  const litres = drawdownLitres(plan.vesselLitres, plan.preChargeBar, plan.cutInBar, plan.cutOutBar);
  return { ...plan, leakCoefficient: litres / minutes / Math.sqrt((plan.cutInBar + plan.cutOutBar) / 2) };
}

function daysBefore(atMs: number, days: number, localHour: number): number {
  return new LocalCalendar(ZONE).dayOf(atMs - days * DAY_MS).at(localHour);
}

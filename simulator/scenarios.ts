import { Problem } from '../collector/model/problem.ts';
import { DEFAULT_THRESHOLDS } from '../collector/model/site.ts';
import { drawnFaults, drawnSpikes } from './drawn-faults.ts';
import {
  cheapSensor,
  drawnBooster,
  drawnHousehold,
  drawnPipes,
  drawnSharedPipes,
  drawnStreet,
  EVENING,
  leaking,
  MORNING,
  passingBack,
  sag,
  soundSensor,
} from './drawn-parts.ts';
import type { HousePlan } from './house.ts';
import { LocalCalendar } from './local-day.ts';
import { RandomStream } from './random.ts';
import type { Scenario } from './scenario.ts';
import type { Span, StreetPlan } from './street.ts';

/** What a named scenario is given to draw from. */
interface Setting {
  readonly random: RandomStream;
  readonly seed: number;
  readonly startMs: number;
  readonly endMs: number;
  readonly timeZone: string;
  /** A moment at that share of the span, on a whole minute. */
  part(share: number): number;
}

type Drawn = Partial<Omit<Scenario, 'house'>> & { readonly house: HousePlan };

interface NamedScenario {
  readonly summary: string;
  readonly timeZone?: string;
  /** A local date that the span must hold, a little past its middle. */
  readonly about?: string;
  draw(setting: Setting): Drawn;
}

const CALM_SWING: Span = [0.06, 0.2];

export const SCENARIOS = {
  'good-supply': {
    summary: 'a good supply and an ordinary household: nothing to complain about',
    draw: (s) => plain(s, [2.2, 4.5], {}),
  },
  'busy-family': {
    summary: 'a good supply, a thin pipe and six people whose mornings look like a sag',
    draw: (s) => {
      const drawn = plain(s, [1.9, 3.4], {}, { lossAtNine: [0.2, 0.45] });
      const household = { ...drawn.house.household, people: 6, eagerness: s.random.uniform(1.3, 1.8) };
      return { ...drawn, house: { ...drawn.house, household } };
    },
  },
  'weekday-morning-sag': {
    summary: 'the street sags on every weekday morning',
    draw: (s) => plain(s, [1.9, 3.6], { recurring: [sag(MORNING, [0.45, 1.1])] }),
  },
  'evening-sag': {
    summary: 'the street sags in the evening, weekends too',
    draw: (s) => plain(s, [1.9, 3.6], { recurring: [sag(EVENING, [0.45, 1.1], { days: 'all' })] }),
  },
  'some-days-sag': {
    summary: 'morning and evening sags on about half of the days',
    draw: (s) =>
      plain(s, [1.9, 3.6], {
        recurring: [
          sag(MORNING, [0.4, 1], { days: 'all', probability: 0.5 }),
          sag(EVENING, [0.4, 1], { days: 'all', probability: 0.4 }),
        ],
      }),
  },
  'mild-sag': {
    summary: 'falls about the least depth that counts: some a little under, some a little over',
    draw: (s) => plain(s, [1.8, 3.6], { recurring: [sag(MORNING, [0.05, 0.35])] }, { swing: [0.03, 0.08] }),
  },
  'low-supply-certain': {
    summary: 'on weekday mornings the street falls well under the low-supply threshold',
    draw: (s) => ({
      ...plain(s, [1.2, 1.9], {
        recurring: [
          sag(MORNING, [0.22, 0.45], { fall: { kind: 'to', bar: [0.22, 0.45] } }),
          sag(EVENING, [0.3, 0.6], { probability: 0.4, fall: { kind: 'to', bar: [0.3, 0.6] } }),
        ],
      }),
      sensor: soundSensor(s.random, { accuracyBar: 0.03, offsetBar: s.random.uniform(-0.012, 0.012) }),
    }),
  },
  'hose-and-pool': {
    summary: 'own draws of half an hour to three hours at a good supply',
    draw: (s) => {
      const drawn = plain(s, [1.6, 3.2], {}, { lossAtNine: [0.08, 0.3] });
      const household = {
        ...drawn.house.household,
        longDraws: [
          { use: 'hose', probability: 0.7, startHour: [8, 20], minutes: [20, 90], flowLpm: [12, 20] },
          { use: 'pool', probability: 0.25, startHour: [8, 17], minutes: [60, 170], flowLpm: [14, 24] },
        ],
      } as const;
      return { ...drawn, house: { ...drawn.house, household } };
    },
  },
  'hose-in-a-sag': {
    summary:
      'a hose runs while the street sags under the threshold: its edges lie inside the low period and across them',
    draw: (s) => {
      const drawn = plain(s, [1.4, 2], {
        recurring: [
          sag(EVENING, [0.3, 0.5], { days: 'all', probability: 0.7, fall: { kind: 'to', bar: [0.3, 0.55] } }),
        ],
      });
      const household = {
        ...drawn.house.household,
        longDraws: [{ use: 'hose', probability: 0.8, startHour: [17, 19.5], minutes: [20, 80], flowLpm: [8, 14] }],
      } as const;
      return { ...drawn, house: { ...drawn.house, household } };
    },
  },
  'shared-pipe': {
    summary: 'a neighbour on the same service pipe; no flow meter',
    draw: (s) => shared(s, false),
  },
  'shared-pipe-with-flow': {
    summary: 'a neighbour on the same service pipe; a flow channel tells the two apart',
    draw: (s) => shared(s, true),
  },
  'with-flow-meter': {
    summary: 'weekday morning sags, with the household’s own flow logged',
    draw: (s) => ({
      ...plain(s, [1.6, 3.2], { recurring: [sag(MORNING, [0.45, 1])] }),
      channels: { flow: true, pump: false, inlet: false },
    }),
  },
  'cheap-sensor': {
    summary: 'ten bits over ten bar, up to 50 mbar of noise, spikes; a quiet main that sits on one code',
    draw: (s) => {
      const drawn = plain(s, [1.4, 3.4], {
        recurring: s.random.chance(0.5) ? [sag(MORNING, [0.5, 1])] : [],
      });
      return { ...drawn, sensor: cheapSensor(s.random), faults: drawnSpikes(s.random, s.startMs, s.endMs, 4) };
    },
  },
  'offset-step': {
    summary: 'the transducer’s zero steps in the middle of the record; the supply doesn’t',
    draw: (s) => {
      const atMs = s.part(s.random.uniform(0.45, 0.55));
      const byBar = s.random.uniform(0.2, 0.6) * (s.random.chance(0.5) ? 1 : -1);
      return {
        ...plain(s, [1.8, 3.4], {}),
        faults: [{ kind: 'offset_step', atMs, byBar }],
        changes: [{ kind: 'sensor', atMs }],
      };
    },
  },
  faults: {
    summary: 'gaps, a stuck value, spikes, a broken wire, a jumping clock, duplicates, late batches, disorder',
    draw: (s) => {
      const drawn = plain(s, [1.6, 3.4], { recurring: [sag(MORNING, [0.45, 1])] });
      const sensor = soundSensor(s.random);
      return { ...drawn, sensor, faults: drawnFaults(s.random, s.startMs, s.endMs, sensor.rangeBar) };
    },
  },
  'arrival-stamps': {
    summary: 'stamped on arrival: up to 0.4 s late, never in disorder',
    draw: (s) => ({ ...plain(s, [1.8, 3.4], { recurring: [sag(MORNING, [0.45, 1])] }), stampJitterMs: 400 }),
  },
  'supply-change': {
    summary: 'the supplier lowers or raises the zone for good',
    draw: (s) => {
      const atMs = s.part(s.random.uniform(0.45, 0.55));
      const byBar = s.random.uniform(0.3, 1.1) * (s.random.chance(0.75) ? -1 : 1);
      const lasting = [{ atMs, byBar, rampMinutes: s.random.uniform(4, 25) }];
      return { ...plain(s, [2.4, 3.8], { lasting }), changes: [{ kind: 'supply', atMs }] };
    },
  },
  'stop-tap-half-shut': {
    summary: 'somebody leaves the stop tap half shut: standing pressure stays, running pressure falls',
    draw: (s) => {
      const atMs = s.part(s.random.uniform(0.45, 0.55));
      const drawn = plain(s, [1.8, 3.4], {}, { lossAtNine: [0.05, 0.12] });
      const throttled = { fromMs: atMs, lossTimes: s.random.uniform(3, 8) };
      return { ...drawn, house: { ...drawn.house, throttled }, changes: [{ kind: 'property', atMs }] };
    },
  },
  'night-management': {
    summary: 'the supplier turns the pressure down every night and up again every morning',
    draw: (s) =>
      plain(s, [2.4, 4], {
        recurring: [sag([22.4, 23.2], [0.6, 1.4], { days: 'all', heldHours: [5.6, 6.2], edgeHours: [0.03, 0.12] })],
      }),
  },
  'throttled-nights': {
    summary: 'the supply is all but shut at night, under the threshold for hours',
    draw: (s) =>
      plain(s, [1.6, 2.4], {
        recurring: [
          sag([22, 23], [0.15, 0.45], {
            days: 'all',
            heldHours: [4.5, 6],
            edgeHours: [0.08, 0.4],
            fall: { kind: 'to', bar: [0.15, 0.45] },
          }),
        ],
      }),
  },
  'short-dips': {
    summary: 'dips of the street of half a minute to four minutes, some too short to count',
    draw: (s) =>
      plain(s, [1.2, 1.8], {
        recurring: [
          sag([0.2, 23.5], [0.25, 0.58], {
            days: 'all',
            times: [5, 16],
            heldHours: [5 / 3600, 200 / 3600],
            edgeHours: [30 / 3600, 60 / 3600],
            fall: { kind: 'to', bar: [0.25, 0.58] },
          }),
        ],
      }),
  },
  burst: {
    summary: 'a burst main: the pressure falls within minutes and comes back after hours',
    draw: (s) =>
      plain(s, [2.2, 3.6], {
        single: [
          {
            startMs: s.part(s.random.uniform(0.25, 0.7)),
            fallEdgeHours: s.random.uniform(0.02, 0.1),
            heldHours: s.random.uniform(2, 9),
            recoveryHours: s.random.uniform(0.1, 0.8),
            fall: { kind: 'to', bar: s.random.uniform(0.3, 0.6) },
          },
        ],
      }),
  },
  works: {
    summary: 'the main is shut for announced works and let in again',
    draw: (s) =>
      plain(s, [2.2, 3.6], {
        single: [
          {
            startMs: s.part(s.random.uniform(0.25, 0.7)),
            fallEdgeHours: s.random.uniform(0.01, 0.05),
            heldHours: s.random.uniform(1, 5),
            recoveryHours: s.random.uniform(0.05, 0.3),
            fall: { kind: 'to', bar: 0 },
          },
        ],
      }),
  },
  'booster-normal': {
    summary: 'a sound booster, logged at its outlet',
    draw: (s) => boosted(s, (plan) => plan, []),
  },
  'booster-leak': {
    summary: 'water escapes behind the booster: it starts with nobody drawing',
    draw: (s) => boosted(s, (plan) => leaking(plan, s.random.uniform(2, 13)), ['leak']),
  },
  'booster-check-valve': {
    summary: 'the booster’s check valve lets water back to the street: it starts with nobody drawing',
    draw: (s) => boosted(s, (plan, street) => passingBack(plan, s.random.uniform(2, 13), street), ['check_valve']),
  },
  'booster-lost-precharge': {
    summary: 'the vessel has lost its air: the pump chatters whenever water is drawn',
    draw: (s) => boosted(s, (plan) => ({ ...plan, airShare: s.random.uniform(0.015, 0.05) }), ['lost_precharge']),
  },
  'booster-narrow': {
    summary: 'the switch’s band is too narrow for its small vessel: the pump chatters whenever water is drawn',
    draw: (s) =>
      boosted(
        s,
        (plan) => ({
          ...plan,
          vesselLitres: s.random.pick([2, 4, 5]),
          cutOutBar: plan.cutInBar + s.random.uniform(0.12, 0.25),
        }),
        ['narrow_differential'],
      ),
  },
  'booster-weak-inlet': {
    summary: 'the pump pulls a weak street down; a second transducer sits before it',
    draw: (s) => {
      const drawn = boosted(s, (plan) => plan, [], { base: [0.55, 1.1], lossAtNine: [0.04, 0.1] });
      return { ...drawn, channels: { flow: false, pump: true, inlet: true } };
    },
  },
  'booster-at-inlet': {
    summary: 'the logger sits before the pump: what the pump pulls down is no low supply',
    draw: (s) => {
      const drawn = boosted(s, (plan) => plan, [], {
        base: [1, 1.5],
        lossAtNine: [0.02, 0.06],
        street: {
          recurring: [sag(MORNING, [0.3, 0.5], { probability: 0.7, fall: { kind: 'to', bar: [0.35, 0.55] } })],
        },
      });
      return {
        ...drawn,
        position: 'pump_inlet',
        house: { ...drawn.house, position: 'pump_inlet' },
        channels: { flow: false, pump: true, inlet: false },
      };
    },
  },
  'booster-fitted': {
    summary: 'a booster is fitted in the middle of the record',
    draw: (s) => {
      const atMs = s.part(s.random.uniform(0.45, 0.55));
      const drawn = boosted(s, (plan) => plan, [], { base: [0.9, 1.6] });
      const booster = drawn.house.booster.slice(0, 1).map((stage) => ({ ...stage, fromMs: atMs }));
      return {
        ...drawn,
        house: { ...drawn.house, booster },
        channels: { flow: false, pump: false, inlet: false },
        changes: [{ kind: 'booster', atMs }],
      };
    },
  },
  'spring-clock-change': {
    summary: 'weekday morning sags across a day of 23 hours',
    timeZone: 'Europe/London',
    about: '2026-03-29',
    draw: (s) => plain(s, [1.9, 3.4], { recurring: [sag(MORNING, [0.45, 1], { days: 'all' })] }),
  },
  'autumn-clock-change': {
    summary: 'evening and morning sags across a day of 25 hours',
    timeZone: 'Europe/London',
    about: '2026-10-25',
    draw: (s) =>
      plain(s, [1.9, 3.4], {
        recurring: [sag(MORNING, [0.45, 1], { days: 'all' }), sag(EVENING, [0.45, 1], { days: 'all' })],
      }),
  },
  'southern-summer': {
    summary: 'a hot January in a zone of half an hour: gardens are watered, the street sags in the evening',
    timeZone: 'Australia/Adelaide',
    about: '2026-01-15',
    draw: (s) => {
      const drawn = plain(s, [1.6, 3], { recurring: [sag(EVENING, [0.45, 1.1], { days: 'all', heldHours: [1, 3] })] });
      const household = {
        ...drawn.house.household,
        gardenTap: true,
        longDraws: [{ use: 'hose', probability: 0.6, startHour: [6, 8.5], minutes: [15, 60], flowLpm: [10, 16] }],
      } as const;
      return { ...drawn, house: { ...drawn.house, household } };
    },
  },
  'ten-seconds': {
    summary: 'weekday morning sags, logged every ten seconds',
    draw: (s) => ({ ...plain(s, [1.9, 3.4], { recurring: [sag(MORNING, [0.45, 1])] }), intervalS: 10 }),
  },
  'sixty-seconds': {
    summary: 'weekday morning sags, logged once a minute: short draws can’t be told',
    draw: (s) => ({ ...plain(s, [1.9, 3.4], { recurring: [sag(MORNING, [0.45, 1])] }), intervalS: 60 }),
  },
} as const satisfies Record<string, NamedScenario>;

export type ScenarioName = keyof typeof SCENARIOS;
export const SCENARIO_NAMES = Object.keys(SCENARIOS) as ScenarioName[];

export function isScenarioName(name: string): name is ScenarioName {
  return Object.hasOwn(SCENARIOS, name);
}

export interface ScenarioRequest {
  readonly days: number;
  readonly seed: number;
  /** Replaces the scenario's own logging interval. */
  readonly intervalS?: number | undefined;
  /** Start instead of the scenario's own; else a local midnight in 2026. */
  readonly startMs?: number | undefined;
}

const FIRST_DAY_MS = Date.UTC(2026, 4, 4, 12);
const SPREAD_OVER_DAYS = 84;
const DAY_MS = 86_400_000;

/**
 * The named scenario with everything drawn from the seed. Problem `option_wrong` where there is none of that name.
 */
export function drawScenario(name: string, request: ScenarioRequest): Scenario {
  if (!isScenarioName(name)) {
    throw new Problem(
      'option_wrong',
      `There is no scenario "${name.slice(0, 80)}".`,
      `Names: ${SCENARIO_NAMES.join(', ')}.`,
    );
  }
  const named: NamedScenario = SCENARIOS[name];
  const { seed, days } = request;
  const random = new RandomStream(seed, name);
  const timeZone = named.timeZone ?? 'Europe/London';
  const calendar = new LocalCalendar(timeZone);
  const noon = named.about
    ? Date.parse(`${named.about}T12:00:00Z`) - Math.floor(days * 0.6) * DAY_MS
    : FIRST_DAY_MS + random.integer(0, SPREAD_OVER_DAYS - 1) * DAY_MS;
  const startMs = request.startMs ?? calendar.dayOf(noon).startMs;
  // Whole local days, whatever their length; a start of the caller's own is followed by days of 24 hours.
  const endMs =
    request.startMs === undefined
      ? calendar.dayOf(startMs + days * DAY_MS + DAY_MS / 2).startMs
      : startMs + Math.round(days * 86_400) * 1000;
  const setting: Setting = {
    random,
    seed,
    startMs,
    endMs,
    timeZone,
    part: (share) => startMs + Math.round((share * (endMs - startMs)) / 60_000) * 60_000,
  };
  const drawn = named.draw(setting);
  return {
    name,
    seed,
    startMs,
    endMs,
    timeZone,
    position: drawn.house.position,
    sensor: drawn.sensor ?? soundSensor(random),
    channels: { flow: false, pump: false, inlet: false },
    thresholds: DEFAULT_THRESHOLDS,
    faults: [],
    stampJitterMs: 0,
    causes: [],
    changes: [],
    ...withoutUndefined(drawn),
    house: drawn.house,
    intervalS: request.intervalS ?? drawn.intervalS ?? 1,
  };
}

function withoutUndefined(drawn: Drawn): Partial<Scenario> {
  return Object.fromEntries(Object.entries(drawn).filter(([, value]) => value !== undefined));
}

function plain(
  s: Setting,
  base: Span,
  street: Partial<StreetPlan>,
  options: { lossAtNine?: Span; swing?: Span } = {},
): Drawn {
  const { random } = s;
  const main = drawnStreet(random, s.seed, s.timeZone, base, options.swing ?? CALM_SWING, street);
  const pipes = drawnPipes(random, options.lossAtNine);
  return {
    house: {
      timeZone: s.timeZone,
      street: main,
      household: drawnHousehold(random, s.seed, main.baseBar - 0.25),
      neighbour: undefined,
      pipes,
      throttled: undefined,
      ringBarPerLpmS: random.uniform(0.003, 0.03),
      position: 'incoming',
      booster: [],
    },
  };
}

function shared(s: Setting, flow: boolean): Drawn {
  const drawn = plain(s, [1.8, 3.4], { recurring: s.random.chance(0.4) ? [sag(MORNING, [0.45, 1])] : [] });
  const neighbour = drawnHousehold(s.random, s.seed + 7919, drawn.house.street.baseBar - 0.25);
  return {
    house: { ...drawn.house, pipes: drawnSharedPipes(s.random), neighbour },
    channels: { flow, pump: false, inlet: false },
  };
}

function boosted(
  s: Setting,
  worn: (plan: ReturnType<typeof drawnBooster>, streetBar: number) => ReturnType<typeof drawnBooster>,
  causes: Scenario['causes'],
  options: { base?: Span; lossAtNine?: Span; street?: Partial<StreetPlan> } = {},
): Drawn {
  const { random } = s;
  const drawn = plain(s, options.base ?? [1, 1.8], options.street ?? {}, {
    lossAtNine: options.lossAtNine ?? [0.015, 0.05],
  });
  const sound = drawnBooster(random);
  const household = { ...drawn.house.household, designBar: (sound.cutInBar + sound.cutOutBar) / 2 };
  const wornPlan = worn(sound, drawn.house.street.baseBar);
  return {
    position: 'pump_outlet',
    house: {
      ...drawn.house,
      household,
      position: 'pump_outlet',
      booster: [
        { fromMs: s.startMs, plan: sound },
        ...(wornPlan === sound ? [] : [{ fromMs: s.part(random.uniform(0.05, 0.4)), plan: wornPlan }]),
      ],
    },
    // A pump channel may or may not be there: both must be understood.
    channels: { flow: false, pump: random.chance(0.5), inlet: false },
    // A waterlogged vessel lets the pump's whole head through before the switch acts.
    sensor: soundSensor(random, { rangeBar: [0, 10], accuracyBar: 0.1 }),
    causes,
  };
}

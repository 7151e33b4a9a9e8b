import type { BoosterFailure } from './booster.ts';
import { drawnBooster, leaking, MORNING, passingBack, sag, soundSensor } from './drawn-parts.ts';
import { LocalCalendar } from './local-day.ts';
import { type Drawn, type NamedScenario, plain, type Setting } from './named-scenario.ts';
import type { Scenario } from './scenario.ts';
import type { Span, StreetPlan } from './street.ts';

/** Houses with a pump on the incoming main. */
export const BOOSTER_SCENARIOS = {
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
  'booster-dry-run': {
    summary: 'for some hours the booster holds air and turns without lifting',
    draw: (s) => failing(s, 'air_locked'),
  },
  'booster-does-not-start': {
    summary: 'for some hours the booster’s switch is dead: the pressure falls below cut-in and no start follows',
    draw: (s) => failing(s, 'never_starts'),
  },
  'booster-does-not-stop': {
    summary: 'for some hours the booster’s switch is welded: the pump runs on against shut outlets',
    draw: (s) => failing(s, 'never_stops'),
  },
  'booster-outside-hours': {
    summary: 'a leak makes the booster start at night, outside the hours that its owner allows',
    draw: (s) => ({
      ...boosted(s, (plan) => leaking(plan, s.random.uniform(4, 13)), ['leak']),
      pump: { allowedHours: [6, 22] },
    }),
  },
  'booster-slow-wear': {
    summary: 'the booster wears: from day to day it fills its vessel more slowly',
    draw: (s) => {
      const drawn = boosted(s, (plan) => ({ ...plan, vesselLitres: 24 }), []);
      const { plan } = drawn.house.booster[drawn.house.booster.length - 1]!;
      const aDay = s.random.uniform(0.01, 0.02);
      const days = Math.ceil((s.endMs - s.startMs) / DAY_MS);
      const booster = Array.from({ length: days }, (_, day) => ({
        fromMs: s.startMs + day * DAY_MS,
        plan: { ...plan, runOutLpm: plan.runOutLpm * (1 - aDay) ** day },
      }));
      return { ...drawn, house: { ...drawn.house, booster } };
    },
  },
} as const satisfies Record<string, NamedScenario>;

const DAY_MS = 86_400_000;

/** Every day a few busy hours with the failure; a channel tells when the motor is on. */
function failing(s: Setting, failure: BoosterFailure): Drawn {
  const drawn = boosted(s, (plan) => plan, []);
  const { plan } = drawn.house.booster[0]!;
  const booster = [{ fromMs: s.startMs, plan }];
  for (const day of new LocalCalendar(s.timeZone).days(s.startMs, s.endMs)) {
    const from = s.random.pick([6.5, 12, 18]) + s.random.uniform(0, 0.5);
    booster.push({ fromMs: day.at(from), plan: { ...plan, failure } });
    booster.push({ fromMs: day.at(from + s.random.uniform(1.5, 3)), plan });
  }
  return { ...drawn, house: { ...drawn.house, booster }, channels: { flow: false, pump: true, inlet: false } };
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

import { drawnBooster, leaking, MORNING, passingBack, sag, soundSensor } from './drawn-parts.ts';
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
} as const satisfies Record<string, NamedScenario>;

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

import { drawnHousehold, drawnSharedPipes, EVENING, MORNING, sag } from './drawn-parts.ts';
import { type Drawn, type NamedScenario, plain, type Setting } from './named-scenario.ts';

/** What the household (or its neighbour) does to the reading. */
export const HOUSEHOLD_SCENARIOS = {
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
  'stop-tap-half-shut': {
    summary: 'somebody leaves the stop tap half shut: standing pressure stays, running pressure falls',
    draw: (s) => {
      const atMs = s.part(s.random.uniform(0.45, 0.55));
      const drawn = plain(s, [1.8, 3.4], {}, { lossAtNine: [0.05, 0.12] });
      const throttled = { fromMs: atMs, lossTimes: s.random.uniform(3, 8) };
      return { ...drawn, house: { ...drawn.house, throttled }, changes: [{ kind: 'property', atMs }] };
    },
  },
} as const satisfies Record<string, NamedScenario>;

function shared(s: Setting, flow: boolean): Drawn {
  const drawn = plain(s, [1.8, 3.4], { recurring: s.random.chance(0.4) ? [sag(MORNING, [0.45, 1])] : [] });
  const neighbour = drawnHousehold(s.random, s.seed + 7919, drawn.house.street.baseBar - 0.25);
  return {
    house: { ...drawn.house, pipes: drawnSharedPipes(s.random), neighbour },
    channels: { flow, pump: false, inlet: false },
  };
}

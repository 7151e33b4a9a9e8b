import { EVENING, MORNING, sag, soundSensor } from './drawn-parts.ts';
import { type NamedScenario, plain } from './named-scenario.ts';

/** What the street does. */
export const STREET_SCENARIOS = {
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
  'supply-change': {
    summary: 'the supplier lowers or raises the zone for good',
    draw: (s) => {
      const atMs = s.part(s.random.uniform(0.45, 0.55));
      const byBar = s.random.uniform(0.3, 1.1) * (s.random.chance(0.75) ? -1 : 1);
      const lasting = [{ atMs, byBar, rampMinutes: s.random.uniform(4, 25) }];
      return { ...plain(s, [2.4, 3.8], { lasting }), changes: [{ kind: 'supply', atMs }] };
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
} as const satisfies Record<string, NamedScenario>;

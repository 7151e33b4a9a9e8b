import { drawnFaults, drawnSpikes } from './drawn-faults.ts';
import { cheapSensor, EVENING, MORNING, sag, soundSensor } from './drawn-parts.ts';
import { type NamedScenario, plain } from './named-scenario.ts';

/** What the sensor, the way to the file and the calendar do. */
export const LOGGING_SCENARIOS = {
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

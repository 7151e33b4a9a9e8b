import { addOnce, addSag, addSags, type LogPlan, WEEKDAYS, withHabits, withPlumbing, withSensor } from './log-plan.ts';
import type { Seeded } from './seeded.ts';
import { drawOldPipe, powerPipe } from './service-pipe.ts';

const HOUR_MS = 3_600_000;
type Family = (plan: LogPlan, chance: Seeded) => void;

/** A low supply of mornings and evenings: the base falls to well under the threshold. */
function lowTimes(plan: LogPlan, chance: Seeded): void {
  plan.baseBar = chance.between(1.15, 1.7);
  plan.dailyBar = 0.02;
  plan.slowSdBar = chance.between(0.005, 0.02);
  withHabits(plan, { heightM: [0.2, 2.5] });
  const depth = plan.baseBar - chance.between(0.3, 0.55);
  addSag(plan, chance, 'morning', depth, { share: 0.85 });
  if (chance.chance(0.6)) addSag(plan, chance, 'evening', depth * chance.between(0.8, 1.05), { share: 0.8 });
}

function oneSag(plan: LogPlan, chance: Seeded): void {
  addSag(plan, chance, chance.pick(['morning', 'evening'] as const), chance.between(0.45, 1));
}

function sharedPipe(plan: LogPlan, chance: Seeded): void {
  withPlumbing(plan, { shared: powerPipe(chance.between(0.08, 0.3), chance.between(1.7, 2)) });
  plan.neighbourOpeningsPerDay = chance.between(15, 40);
  if (chance.chance(0.5)) oneSag(plan, chance);
}

/** Named families of logs: each changes an ordinary house into one of the traps. */
export const FAMILIES: Readonly<Record<string, Family>> = {
  'quiet-good': (plan) => withHabits(plan, { people: 1 }),
  'busy-mornings': (plan, chance) =>
    withHabits(plan, { people: 5, busy: 1.5, showersTogether: true, bathsPerDay: chance.between(0.3, 1) }),
  'mild-sag': (plan, chance) => {
    addSag(plan, chance, 'morning', chance.between(0.2, 0.5));
    addSag(plan, chance, 'evening', chance.between(0.1, 0.45));
  },
  'severe-sag': lowTimes,
  'weekday-sag': (plan, chance) => addSag(plan, chance, 'morning', chance.between(0.4, 1), { on: WEEKDAYS }),
  'evening-sag': (plan, chance) => addSag(plan, chance, 'evening', chance.between(0.4, 1.1)),
  'some-days-sag': (plan, chance) => {
    addSag(plan, chance, 'morning', chance.between(0.4, 0.9), { share: chance.between(0.3, 0.6) });
    withHabits(plan, { busy: 1.4, people: 4, showersTogether: true });
  },
  'low-under-draws': (plan, chance) => {
    lowTimes(plan, chance);
    withPlumbing(plan, { own: drawOldPipe(chance) });
    withHabits(plan, { heightM: [0.2, 1.5], people: 4, bathsPerDay: 0.6, hosesPerDay: 0.4 });
  },
  'throttled-nights': (plan, chance) => {
    plan.baseBar = chance.between(1.5, 2.5);
    addSags(plan, chance, {
      hour: chance.between(22.2, 23.4),
      lengthH: chance.between(5.5, 6.8),
      depthBar: (plan.baseBar - chance.between(0.25, 0.5)) / 0.97,
      forms: ['step', 'trapezoid'],
      edgeMs: chance.between(120, 1200) * 1000,
    });
    // The depth of a throttled night is set by a valve, so every night ends at the same pressure.
  },
  'short-dips': (plan, chance) => {
    plan.baseBar = chance.between(1, 1.4);
    const low = plan.baseBar - chance.between(0.35, 0.5);
    plan.events.push((startMs, endMs) => {
      const dips = [];
      for (let at = startMs + 5 * HOUR_MS; at < endMs - 5 * HOUR_MS; at += chance.between(3, 9) * HOUR_MS) {
        let from = at;
        for (let n = chance.whole(1, 4); n > 0; n--) {
          const lengthMs = chance.betweenLog(130, 500) * 1000;
          dips.push({
            startMs: from,
            endMs: from + lengthMs,
            depthBar: low,
            form: 'step' as const,
            edgeMs: chance.between(35, 60) * 1000,
          });
          from += lengthMs + chance.betweenLog(20, 400) * 1000;
        }
      }
      return dips;
    });
  },
  'bursts-and-works': (plan, chance) => {
    plan.baseBar = chance.between(2, 3.5);
    addOnce(plan, chance.between(0.2, 0.4), chance.between(1.5, 9) * HOUR_MS, {
      depthBar: plan.baseBar - chance.between(0.2, 0.5),
      form: 'long_tail',
      edgeMs: 0,
    });
    addOnce(plan, chance.between(0.6, 0.8), chance.between(0.5, 5) * HOUR_MS, {
      depthBar: plan.baseBar - chance.between(0.05, 0.4),
      form: 'step',
      edgeMs: chance.between(40, 300) * 1000,
    });
  },
  'hose-old-pipe': (plan, chance) => {
    withPlumbing(plan, { own: drawOldPipe(chance) });
    withHabits(plan, { hosesPerDay: 0.8, heightM: [0.2, 3] });
  },
  'bath-and-pool': (plan, chance) => {
    withPlumbing(plan, { own: drawOldPipe(chance) });
    withHabits(plan, { poolFills: 2, bathsPerDay: 1, hosesPerDay: 0.3 });
    if (chance.chance(0.5)) oneSag(plan, chance);
  },
  'hose-in-low': (plan, chance) => {
    lowTimes(plan, chance);
    withHabits(plan, { hosesPerDay: 1.2, heightM: [0.1, 1] });
  },
  'regulated-outlets': (plan, chance) => {
    withHabits(plan, { regulated: 1, people: 3 });
    oneSag(plan, chance);
  },
  'tall-house': (plan, chance) => {
    plan.baseBar = chance.between(1.5, 2.2);
    withHabits(plan, { heightM: [3, 8], people: 3 });
    addSag(plan, chance, 'morning', chance.between(0.35, 0.7));
  },
  'slow-cisterns': (plan, chance) =>
    withHabits(plan, { cisternCloseS: [30, 100], people: 4, heightM: [0.5, chance.between(2, 6)] }),
  machines: (plan, chance) => {
    withHabits(plan, { machinesPerDay: 3, regulated: 0.8 });
    withPlumbing(plan, { hammerBarPerLpm: chance.between(0.01, 0.03) });
  },
  'shared-metered': (plan, chance) => {
    sharedPipe(plan, chance);
    plan.metered = true;
  },
  'shared-unmetered': sharedPipe,
  'half-shut-tap': (plan, chance) => {
    plan.days = chance.whole(9, 12);
    withPlumbing(plan, {
      throttledFromS: Math.round(plan.days * 86_400 * chance.between(0.4, 0.6)),
      throttleBar: chance.between(0.35, 0.9),
    });
    withHabits(plan, { people: 3 });
  },
  'supplier-change': (plan, chance) => {
    plan.days = chance.whole(8, 12);
    addOnce(plan, chance.between(0.42, 0.58), 60_000, {
      depthBar: chance.pick([-1, 1]) * chance.between(0.25, 0.8),
      form: 'lasting',
      edgeMs: chance.betweenLog(60, 3600) * 1000,
    });
    if (chance.chance(0.4)) addSag(plan, chance, 'evening', 0.5);
  },
  'night-management': (plan, chance) =>
    addSags(plan, chance, {
      hour: chance.between(22.8, 23.9),
      lengthH: chance.between(5, 6),
      depthBar: chance.between(0.3, 0.9),
      forms: ['step'],
      edgeMs: chance.between(60, 900) * 1000,
    }),
  'higher-by-day': (plan, chance) =>
    addSags(plan, chance, {
      hour: chance.between(5.2, 6.5),
      lengthH: chance.between(15, 16.5),
      depthBar: -chance.between(0.3, 0.8),
      forms: ['step', 'trapezoid'],
      edgeMs: chance.between(60, 1800) * 1000,
    }),
  'coarse-noisy': (plan, chance) => {
    withSensor(plan, {
      rangeBar: [0, 10],
      stepBar: 10 / (0.8 * 1024),
      noiseBar: chance.pick([0.002, 0.006, 0.02, 0.035, 0.05]),
      accuracyBar: chance.between(0.1, 0.25),
    });
    if (chance.chance(0.7)) oneSag(plan, chance);
  },
  'coarse-quiet': (plan) => {
    withSensor(plan, { rangeBar: [0, 10], stepBar: 10 / (0.8 * 1024), noiseBar: 0.001 });
    plan.slowSdBar = 0.006;
    plan.minuteSdBar = 0.0015;
    plan.flickerSdBar = 0.0008;
  },
  transport: (plan, chance) => {
    plan.faults = { gap: 4, late: 3, duplicate: 3, clock_jump: 2 };
    if (chance.chance(0.5)) oneSag(plan, chance);
  },
  'sensor-faults': (plan, chance) => {
    plan.faults = { stuck: 3, spike: 12, out_of_range: 4, gap: 2 };
    if (chance.chance(0.5)) oneSag(plan, chance);
  },
  'offset-step': (plan) => {
    plan.faults = { offset_step: 1 };
  },
  drift: (plan, chance) => withSensor(plan, { driftBar: chance.pick([-1, 1]) * chance.between(0.05, 0.15) }),
  'ten-seconds': (plan, chance) => {
    plan.intervalS = 10;
    plan.days = chance.whole(7, 14);
    (chance.chance(0.5) ? lowTimes : oneSag)(plan, chance);
    if (chance.chance(0.5)) plan.faults = { gap: 3, late: 2, stuck: 1, spike: 4 };
  },
  'sixty-seconds': (plan, chance) => {
    plan.intervalS = 60;
    plan.days = chance.whole(10, 14);
    (chance.chance(0.5) ? lowTimes : oneSag)(plan, chance);
    withHabits(plan, { hosesPerDay: 0.5, bathsPerDay: 0.5 });
    if (chance.chance(0.5)) plan.faults = { gap: 3, late: 2, duplicate: 1 };
  },
  'metered-sag': (plan, chance) => {
    plan.metered = true;
    withPlumbing(plan, { own: drawOldPipe(chance) });
    withHabits(plan, { hosesPerDay: 0.8, poolFills: 1, people: 4 });
    oneSag(plan, chance);
  },
  'metered-low': (plan, chance) => {
    plan.metered = true;
    lowTimes(plan, chance);
    withHabits(plan, { hosesPerDay: 0.5, bathsPerDay: 0.5 });
    if (chance.chance(0.4)) plan.intervalS = 10;
  },
  'spring-change': (plan, chance) => {
    plan.startMs = Date.UTC(2026, 2, chance.whole(23, 27));
    oneSag(plan, chance);
  },
  'autumn-change': (plan, chance) => {
    plan.startMs = Date.UTC(2026, 9, chance.whole(19, 23));
    oneSag(plan, chance);
  },
  southern: (plan, chance) => {
    plan.timeZone = chance.pick(['Australia/Hobart', 'America/Santiago']);
    plan.startMs = Date.UTC(2026, chance.pick([3, 8, 9, 0]), chance.whole(1, 4), chance.whole(0, 23));
    oneSag(plan, chance);
    addSag(plan, chance, 'evening', chance.between(0.4, 0.8));
  },
  'other-thresholds': (plan, chance) => {
    lowTimes(plan, chance);
    const up = chance.between(0.3, 1.3);
    plan.baseBar += up;
    plan.lowSupplyBar = Math.round((0.7 + up) * 100) / 100;
    plan.sagMinDepthBar = chance.pick([0.15, 0.2, 0.5]);
  },
  'eight-weeks': (plan, chance) => {
    plan.days = 56;
    plan.intervalS = chance.pick([10, 60]);
    plan.startMs = Date.UTC(2026, chance.pick([1, 2, 8]), chance.whole(1, 20));
    addSag(plan, chance, 'morning', chance.between(0.35, 0.9), { on: WEEKDAYS, share: 0.8 });
    plan.faults = { gap: 6, late: 3 };
    if (chance.chance(0.5)) {
      addOnce(plan, chance.between(0.3, 0.7), 60_000, {
        depthBar: chance.between(0.3, 0.6),
        form: 'lasting',
        edgeMs: 600_000,
      });
    }
  },
};

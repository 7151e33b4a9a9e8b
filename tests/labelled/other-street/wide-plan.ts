import type { LogPlan } from './log-plan.ts';
import { withHabits, withPlumbing, withSensor } from './log-plan.ts';
import type { EdgeShape, Opening } from './outlets.ts';
import type { Seeded } from './seeded.ts';
import { powerPipe } from './service-pipe.ts';
import type { StreetEvent } from './street.ts';

/** What a wide log does beyond its family's plan: shapes of taps, valves, streets and devices. */
export interface Wide {
  readonly sagForm: StreetEvent['form'] | undefined;
  /** A regulating valve that hunts: amplitude and period. */
  readonly huntBar: number;
  readonly huntPeriodS: number;
  /** Ripple of a sag's many small demands, as a share of its depth. */
  readonly rippleShare: number;
  /** Pumps of the supplier that start and stop: times a day, and by how much over how long. */
  readonly switchesPerDay: number;
  readonly switchBar: number;
  readonly switchS: number;
  /** Time constant of the device's own filter. */
  readonly filterS: number;
  /** One deviation of the stamps about their grid. */
  readonly jitterMs: number;
  readonly tapEdgeS: readonly [number, number];
  readonly shapes: readonly EdgeShape[];
  readonly floatValves: boolean;
  /** Share of openings whose flow a hand changes once on the way. */
  readonly handShare: number;
}

/** Ranges far beyond the ordinary plan's, whatever the family; what the family is about stays. */
export function widen(plan: LogPlan, chance: Seeded): Wide {
  const noisy = chance.chance(0.5);
  if (noisy && plan.intervalS === 1) {
    const bits = chance.pick([0, 1024, 4096, 16_384]);
    const [low, top] = plan.sensor.rangeBar;
    withSensor(plan, {
      noiseBar: chance.betweenLog(0.001, 0.05),
      stepBar: bits === 0 ? 0 : (top - low) / (0.8 * bits),
      accuracyBar: chance.betweenLog(0.005, 0.2),
    });
  }
  const bottom = chance.between(-0.5, 1);
  withHabits(plan, {
    busy: chance.betweenLog(0.6, 6),
    regulated: chance.between(0, 1),
    heightM: chance.chance(0.5)
      ? plan.habits.heightM
      : [bottom, Math.min(bottom + chance.between(1, 8), (0.55 * plan.baseBar) / 0.098)],
    cisternCloseS: chance.pick([
      [0.5, 2],
      [5, 30],
      [30, 120],
    ] as const),
    dayHours: [chance.between(4.8, 8.5), chance.between(21, 23.8)],
  });
  if (chance.chance(0.5))
    withPlumbing(plan, { own: powerPipe(chance.betweenLog(0.05, 0.9), chance.between(1.4, 2.05)) });
  plan.slowSdBar = chance.betweenLog(0.003, 0.05);
  plan.minuteSdBar = chance.betweenLog(0.001, 0.015);
  plan.flickerSdBar = chance.betweenLog(0.0005, 0.007);
  return {
    sagForm: chance.chance(0.6)
      ? chance.pick(['charging', 'two_humps', 'ramp', 'plateau_of_steps', 'trapezoid'] as const)
      : undefined,
    huntBar: chance.chance(0.3) ? chance.betweenLog(0.003, 0.03) : 0,
    huntPeriodS: chance.betweenLog(25, 400),
    rippleShare: chance.chance(0.5) ? chance.betweenLog(0.005, 0.04) : 0,
    switchesPerDay: chance.chance(0.3) ? chance.between(4, 30) : 0,
    switchBar: chance.betweenLog(0.03, 0.25),
    switchS: Math.max(7 * plan.intervalS, chance.betweenLog(35, 200)),
    filterS: chance.chance(0.3) ? chance.between(0.3, 2) : 0,
    jitterMs: chance.chance(0.3) ? chance.between(5, 60) : 0,
    tapEdgeS: chance.pick([
      [0.2, 1],
      [0.5, 3],
      [1, 6],
    ] as const),
    shapes: chance.pick([['linear'], ['smooth'], ['quick', 'smooth'], ['slow_end', 'linear']] as const),
    floatValves: chance.chance(0.5),
    handShare: chance.chance(0.5) ? chance.between(0.05, 0.4) : 0,
  };
}

/** The same openings with other hands and valves. */
export function widenOpenings(openings: readonly Opening[], wide: Wide, chance: Seeded): Opening[] {
  return openings.map((opening) => {
    const lengthS = opening.endS - opening.startS;
    const slowClose = opening.closeS > 2.01;
    const machine = opening.openS <= 0.31;
    const handed = !machine && !slowClose && lengthS > 20 && chance.chance(wide.handShare);
    const edge = () => Math.min(0.45 * lengthS, chance.betweenLog(wide.tapEdgeS[0], wide.tapEdgeS[1]));
    return {
      ...opening,
      openS: machine ? opening.openS : edge(),
      closeS: machine || slowClose ? opening.closeS : edge(),
      shape: machine ? 'linear' : chance.pick(wide.shapes),
      float: slowClose && wide.floatValves,
      ...(handed
        ? {
            hand: {
              atS: opening.startS + Math.round(lengthS * chance.between(0.2, 0.8)),
              by: chance.between(0.4, 1.6),
            },
          }
        : {}),
    };
  });
}

/** The street's further movements, added in place. */
export function widenStreet(
  street: Float64Array,
  startMs: number,
  events: readonly StreetEvent[],
  wide: Wide,
  chance: Seeded,
): void {
  const seconds = street.length;
  const phase = chance.between(0, 6.28);
  if (wide.huntBar > 0) {
    // Hunting comes and goes over hours.
    for (let s = 0; s < seconds; s++) {
      const alive = Math.max(0, Math.sin((2 * Math.PI * s) / 21_000 + phase));
      street[s]! += wide.huntBar * alive * Math.sin((2 * Math.PI * s) / wide.huntPeriodS);
    }
  }
  if (wide.rippleShare > 0) {
    for (const event of events) {
      if (event.form === 'lasting' || event.depthBar <= 0) continue;
      const from = Math.max(0, Math.round((event.startMs - startMs) / 1000));
      const to = Math.min(seconds, Math.round((event.endMs - startMs) / 1000));
      let here = 0;
      for (let s = from; s < to; s++) {
        const edge = Math.min(1, (s - from) / 600, (to - s) / 600);
        here = 0.97 * here + 0.243 * chance.normal();
        street[s]! += wide.rippleShare * event.depthBar * edge * here * 0.5;
      }
    }
  }
  for (let n = Math.round((wide.switchesPerDay * seconds) / 86_400); n > 0; n--) {
    const at = chance.between(0, seconds);
    const length = chance.betweenLog(300, 7200);
    const by = wide.switchBar * chance.pick([-1, 1]) * chance.between(0.5, 1);
    for (let s = Math.floor(at); s < Math.min(seconds, at + length); s++) {
      street[s]! += by * Math.min(1, (s - at) / wide.switchS, (at + length - s) / wide.switchS);
    }
  }
  for (let s = 0; s < seconds; s++) street[s] = Math.max(0.03, street[s]!);
}

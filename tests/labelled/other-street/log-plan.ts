import type { Habits } from './habits.ts';
import type { Plumbing } from './hydraulic-run.ts';
import type { Seeded } from './seeded.ts';
import { drawPipe } from './service-pipe.ts';
import { plannedSags, type SagPlan, type StreetEvent } from './street.ts';
import type { FaultPlan, Transducer } from './transducer.ts';
import type { WallClock } from './wall-clock.ts';

export type EventMaker = (startMs: number, endMs: number, clock: WallClock) => StreetEvent[];

/** Everything that makes a log, drawn by seed; a family changes what it is about. */
export interface LogPlan {
  days: number;
  intervalS: number;
  timeZone: string;
  startMs: number;
  baseBar: number;
  dailyBar: number;
  slowSdBar: number;
  minuteSdBar: number;
  flickerSdBar: number;
  events: EventMaker[];
  habits: Habits;
  plumbing: Plumbing;
  neighbourOpeningsPerDay: number;
  sensor: Transducer;
  faults: FaultPlan;
  metered: boolean;
  lowSupplyBar: number;
  sagMinDepthBar: number;
}

export const WEEKDAYS = (weekday: number): boolean => weekday >= 1 && weekday <= 5;
export const EVERY_DAY = (): boolean => true;

/** An ordinary house on a good main. */
export function ordinaryPlan(chance: Seeded): LogPlan {
  const rangeBar = chance.pick([
    [0, 10],
    [0, 10],
    [0, 6],
    [0, 16],
  ] as const);
  const converter = chance.pick([0, 4096, 4096, 4096]);
  return {
    days: chance.whole(7, 10),
    intervalS: 1,
    timeZone: 'Europe/London',
    startMs: Date.UTC(2026, chance.pick([0, 1, 4, 5, 6, 7, 10]), chance.whole(1, 18), chance.pick([0, 0, 9, 14])),
    baseBar: chance.between(1.9, 4.2),
    dailyBar: chance.between(0.01, 0.06),
    slowSdBar: chance.between(0.006, 0.035),
    minuteSdBar: chance.betweenLog(0.0015, 0.009),
    flickerSdBar: chance.betweenLog(0.0008, 0.004),
    events: [],
    habits: {
      people: chance.whole(1, 4),
      busy: chance.between(0.7, 1.2),
      heightM: [0.3, 5],
      regulated: chance.between(0, 0.5),
      showersTogether: false,
      cisternCloseS: [2, 25],
      machinesPerDay: chance.between(0.2, 0.8),
      hosesPerDay: 0.05,
      poolFills: 0,
      bathsPerDay: chance.between(0, 0.3),
      dayHours: [chance.between(5.8, 7.5), chance.between(21.8, 23.5)],
    },
    plumbing: {
      own: drawPipe(chance),
      shared: undefined,
      throttledFromS: Number.POSITIVE_INFINITY,
      throttleBar: 0,
      hammerBarPerLpm: chance.between(0, 0.015),
    },
    neighbourOpeningsPerDay: 0,
    sensor: {
      rangeBar,
      accuracyBar: chance.between(0.002, 0.01) * rangeBar[1],
      noiseBar: chance.betweenLog(0.001, 0.008),
      stepBar: converter === 0 ? 0 : (rangeBar[1] - rangeBar[0]) / (0.8 * converter),
      zeroBar: 0.006 * chance.normal(),
      driftBar: 0,
    },
    faults: {},
    metered: false,
    lowSupplyBar: 0.7,
    sagMinDepthBar: 0.3,
  };
}

export function withHabits(plan: LogPlan, habits: Partial<Habits>): void {
  plan.habits = { ...plan.habits, ...habits };
}

export function withSensor(plan: LogPlan, sensor: Partial<Transducer>): void {
  plan.sensor = { ...plan.sensor, ...sensor };
}

export function withPlumbing(plan: LogPlan, plumbing: Partial<Plumbing>): void {
  plan.plumbing = { ...plan.plumbing, ...plumbing };
}

export function addSags(plan: LogPlan, chance: Seeded, sag: Partial<SagPlan> & { depthBar: number }): void {
  const whole: SagPlan = {
    hour: chance.between(5.8, 7),
    lengthH: chance.between(1.2, 2.8),
    forms: ['trapezoid', 'sinusoid', 'step', 'long_tail'],
    edgeMs: Math.max(7 * plan.intervalS, chance.betweenLog(45, 400)) * 1000,
    on: EVERY_DAY,
    share: 1,
    ...sag,
  };
  plan.events.push((startMs, endMs, clock) => plannedSags(whole, startMs, endMs, clock, chance));
}

export function addSag(
  plan: LogPlan,
  chance: Seeded,
  window: 'morning' | 'evening',
  depthBar: number,
  more: Partial<SagPlan> = {},
): void {
  const hour = window === 'morning' ? chance.between(5.7, 7.2) : chance.between(17.4, 19);
  addSags(plan, chance, { hour, depthBar, ...more });
}

/** One event at a share of the log, in any form. */
export function addOnce(
  plan: LogPlan,
  share: number,
  lengthMs: number,
  event: Omit<StreetEvent, 'startMs' | 'endMs'>,
): void {
  plan.events.push((startMs, endMs) => {
    const at = startMs + share * (endMs - startMs);
    return [{ ...event, startMs: at, endMs: at + lengthMs }];
  });
}

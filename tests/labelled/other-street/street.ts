import type { Seeded } from './seeded.ts';
import type { WallClock } from './wall-clock.ts';

/** The street falls (or rises, with a negative depth) by so much between two instants, in one of several forms. */
export interface StreetEvent {
  readonly startMs: number;
  readonly endMs: number;
  readonly depthBar: number;
  readonly form:
    | 'trapezoid'
    | 'sinusoid'
    | 'step'
    | 'long_tail'
    | 'lasting'
    | 'charging'
    | 'two_humps'
    | 'ramp'
    | 'plateau_of_steps';
  /** Length of a step's edges; a street needs at least half a minute. */
  readonly edgeMs: number;
}

export const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;

/** Share of an event's depth at an instant. */
export function eventShare(event: StreetEvent, atMs: number): number {
  const { startMs, endMs, form, edgeMs } = event;
  if (atMs <= startMs || (atMs >= endMs && form !== 'lasting' && form !== 'long_tail')) return 0;
  const length = endMs - startMs;
  const through = (atMs - startMs) / length;
  switch (form) {
    case 'trapezoid':
      return Math.min(1, through / 0.3, (1 - through) / 0.3);
    case 'sinusoid':
      return Math.sin(Math.PI * through) ** 2;
    case 'step':
      return Math.min(1, (atMs - startMs) / edgeMs, (endMs - atMs) / edgeMs);
    case 'lasting':
      return Math.min(1, (atMs - startMs) / edgeMs);
    case 'long_tail': {
      const fall = 0.35 * length;
      return atMs - startMs < fall ? (atMs - startMs) / fall : Math.exp(-(atMs - startMs - fall) / (0.22 * length));
    }
    case 'charging':
      // Falls towards its depth as a tank empties, and comes back at once when demand ends.
      return (1 - Math.exp(-5 * through)) * Math.min(1, (1 - through) / 0.08);
    case 'two_humps':
      return (
        Math.min(1, through / 0.1, (1 - through) / 0.1) * (0.75 - 0.25 * Math.cos(4 * Math.PI * through + Math.PI))
      );
    case 'ramp':
      return through < 0.85 ? through / 0.85 : (1 - through) / 0.15;
    case 'plateau_of_steps': {
      // Every step lasts as long as a street needs at least.
      const steps = [0.35, 0.7, 1, 0.8, 0.4];
      const at = Math.min(4, Math.floor(through * 5));
      const into = (through * 5 - at) * (length / 5);
      const before = at === 0 ? 0 : steps[at - 1]!;
      const leaving = at === 4 ? Math.min(1, (endMs - atMs) / Math.max(edgeMs, 60_000)) : 1;
      return Math.min(1, into / Math.max(edgeMs, 60_000)) * (steps[at]! - before) * leaving + before * leaving;
    }
    default:
      return form satisfies never;
  }
}

export interface StreetParts {
  readonly baseBar: number;
  readonly events: readonly StreetEvent[];
  /** Amplitude of the ordinary day, by two sinusoids. */
  readonly dailyBar: number;
  /** Mean-reverting wander: over hours, over minutes, over seconds (one deviation each). */
  readonly slowSdBar: number;
  readonly minuteSdBar: number;
  readonly flickerSdBar: number;
}

/** One value a second: base, day, events and three mean-reverting processes of independent chance. */
export function streetColumn(
  parts: StreetParts,
  startMs: number,
  seconds: number,
  clock: WallClock,
  chance: Seeded,
): Float64Array {
  const column = new Float64Array(seconds).fill(parts.baseBar);
  const phase = chance.between(0, 2 * Math.PI);
  const offset = clock.offsetMs(startMs);
  for (let s = 0; s < seconds; s++) {
    const day = ((startMs + offset + s * 1000) / DAY_MS) * 2 * Math.PI;
    column[s]! += parts.dailyBar * (0.7 * Math.cos(day - 0.7) + 0.3 * Math.cos(2 * day + phase));
  }
  addWander(column, chance, parts.slowSdBar, chance.between(2400, 12_000), 60);
  addWander(column, chance, parts.minuteSdBar, chance.between(120, 500), 15);
  addWander(column, chance, parts.flickerSdBar, chance.between(8, 25), 3);
  for (const event of parts.events) {
    const tail = event.form === 'lasting' ? seconds * 1000 : event.form === 'long_tail' ? 5 * HOUR_MS : 0;
    const from = Math.max(0, Math.floor((event.startMs - startMs) / 1000));
    const to = Math.min(seconds, Math.ceil((event.endMs + tail - startMs) / 1000));
    for (let s = from; s < to; s++) column[s]! -= event.depthBar * eventShare(event, startMs + s * 1000);
  }
  for (let s = 0; s < seconds; s++) column[s] = Math.max(0.03, column[s]!);
  return column;
}

/** Ornstein–Uhlenbeck on knots `stepS` apart, straight in between. */
function addWander(column: Float64Array, chance: Seeded, sdBar: number, relaxS: number, stepS: number): void {
  if (sdBar <= 0) return;
  const kept = Math.exp(-stepS / relaxS);
  const fresh = sdBar * Math.sqrt(1 - kept * kept);
  let here = sdBar * chance.normal();
  let there = here * kept + fresh * chance.normal();
  for (let s = 0; s < column.length; s++) {
    const within = s % stepS;
    if (within === 0 && s > 0) {
      here = there;
      there = here * kept + fresh * chance.normal();
    }
    column[s]! += here + ((there - here) * within) / stepS;
  }
}

export interface SagPlan {
  readonly hour: number;
  readonly lengthH: number;
  readonly depthBar: number;
  readonly forms: readonly StreetEvent['form'][];
  readonly edgeMs: number;
  /** Which weekdays (0 is Sunday), and the share of them on which it comes. */
  readonly on: (weekday: number) => boolean;
  readonly share: number;
}

/** A sag that comes at about the same hour of the days chosen, never quite alike. */
export function plannedSags(
  plan: SagPlan,
  startMs: number,
  endMs: number,
  clock: WallClock,
  chance: Seeded,
): StreetEvent[] {
  const form = chance.pick(plan.forms);
  const events: StreetEvent[] = [];
  for (const { date, weekday } of clock.dates(startMs, endMs)) {
    if (!plan.on(weekday) || !chance.chance(plan.share)) continue;
    const start = clock.at(date, plan.hour + 0.2 * chance.normal());
    events.push({
      startMs: start,
      endMs: start + plan.lengthH * HOUR_MS * chance.between(0.85, 1.15),
      depthBar: plan.depthBar * chance.between(0.85, 1.15),
      form,
      edgeMs: plan.edgeMs,
    });
  }
  return events;
}

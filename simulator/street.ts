import { LocalCalendar, type LocalDay } from './local-day.ts';
import { RandomStream } from './random.ts';
import { addStreetNoise, DAY_MS, type NoisePart, SECONDS_A_DAY } from './street-noise.ts';

/** Days on which something happens; `probability` is asked afresh each such day. */
export interface DayRule {
  readonly days: 'all' | 'weekdays' | 'weekend';
  readonly probability: number;
}

/** A span drawn afresh each day, uniformly. */
export type Span = readonly [low: number, high: number];

/** A fall of the main's pressure that comes back on its days: a sag, a dip, a throttled or managed night. */
export interface RecurringFall extends DayRule {
  /** Local hour of the beginning (may exceed 24), hours at full depth, and hours that each edge takes. */
  readonly startHour: Span;
  readonly heldHours: Span;
  readonly edgeHours: Span;
  /** Falls by so much, or comes down to a level. */
  readonly fall: { readonly kind: 'by' | 'to'; readonly bar: Span };
  /** Times a day; more than one spreads over the hours of `startHour`. */
  readonly times?: Span;
}

/** Something that happens once: a burst, works. */
export interface SingleFall {
  readonly startMs: number;
  readonly heldHours: number;
  readonly fallEdgeHours: number;
  readonly recoveryHours: number;
  readonly fall: { readonly kind: 'by' | 'to'; readonly bar: number };
}

export interface LastingChange {
  readonly atMs: number;
  readonly rampMinutes: number;
  readonly byBar: number;
}

export interface StreetPlan {
  readonly seed: number;
  readonly timeZone: string;
  /** Pressure where the service pipe leaves the main, at no demand in the network. */
  readonly baseBar: number;
  /** Fall from base to the network's busiest ordinary hour. */
  readonly diurnalSwingBar: number;
  /** Relative standard deviation of that fall from day to day. */
  readonly dayVariation: number;
  readonly noise: readonly NoisePart[];
  readonly recurring: readonly RecurringFall[];
  readonly single: readonly SingleFall[];
  readonly lasting: readonly LastingChange[];
}

/**
 * Network demand as a multiple of its mean at each local hour. Night 0.2 to 0.4, morning 1.6 to 2.2, midday 1.0 to 1.2,
 * evening 1.4 to 1.8: common practice, no source (that main use lies in 06–10 and 16–20 is teaching text).
 */
export const WEEKDAY_FACTORS: readonly number[] = [
  0.45, 0.32, 0.25, 0.24, 0.28, 0.55, 1.2, 1.95, 1.9, 1.5, 1.25, 1.15, 1.1, 1.05, 1.0, 1.05, 1.2, 1.45, 1.65, 1.6, 1.4,
  1.15, 0.9, 0.65,
];
export const WEEKEND_FACTORS: readonly number[] = [
  0.5, 0.38, 0.3, 0.26, 0.26, 0.35, 0.6, 1.1, 1.6, 1.85, 1.75, 1.5, 1.3, 1.2, 1.1, 1.1, 1.2, 1.4, 1.5, 1.45, 1.3, 1.1,
  0.9, 0.7,
];
const PEAK_FACTOR = 2;
/** Friction in the network goes with flow to this power (Hazen–Williams). */
const NETWORK_LOSS_EXPONENT = 1.852;
const NODE_S = 10;

interface FallEvent {
  readonly startMs: number;
  readonly fullMs: number;
  readonly easeMs: number;
  readonly endMs: number;
  readonly kind: 'by' | 'to';
  readonly bar: number;
}

/** The main's pressure, one value a second, a UTC day at a time; the same plan gives the same day whatever was asked before. */
export class Street {
  private readonly plan: StreetPlan;
  private readonly calendar: LocalCalendar;
  private readonly remembered = new Map<number, Float64Array>();

  constructor(plan: StreetPlan) {
    this.plan = plan;
    this.calendar = new LocalCalendar(plan.timeZone);
  }

  /** Pressure in bar at each second of the UTC day that begins at `dayStartMs` (a multiple of 86,400,000). */
  day(dayStartMs: number): Float64Array {
    const known = this.remembered.get(dayStartMs);
    if (known) return known;
    const made = this.makeDay(dayStartMs);
    if (this.remembered.size >= 2) this.remembered.delete(this.remembered.keys().next().value!);
    this.remembered.set(dayStartMs, made);
    return made;
  }

  private makeDay(dayStartMs: number): Float64Array {
    const { plan } = this;
    const events = this.eventsNear(dayStartMs);
    const nodes = new Float64Array(SECONDS_A_DAY / NODE_S + 1);
    for (let i = 0; i < nodes.length; i++) nodes[i] = this.calmPressure(dayStartMs + i * NODE_S * 1000, events);
    const bar = new Float64Array(SECONDS_A_DAY);
    for (let i = 0; i < SECONDS_A_DAY; i++) {
      const node = Math.floor(i / NODE_S);
      const share = (i % NODE_S) / NODE_S;
      bar[i] = nodes[node]! * (1 - share) + nodes[node + 1]! * share;
    }
    addStreetNoise(bar, dayStartMs, plan.seed, plan.noise);
    for (let i = 0; i < bar.length; i++) if (bar[i]! < 0) bar[i] = 0;
    return bar;
  }

  private calmPressure(atMs: number, events: readonly FallEvent[]): number {
    const { plan } = this;
    let bar = plan.baseBar;
    for (const change of plan.lasting) {
      bar += change.byBar * smoothStep((atMs - change.atMs) / (change.rampMinutes * 60_000));
    }
    bar -= plan.diurnalSwingBar * this.demandShare(atMs);
    for (const event of events) {
      if (atMs <= event.startMs || atMs >= event.endMs) continue;
      const weight =
        smoothStep((atMs - event.startMs) / (event.fullMs - event.startMs)) *
        (1 - smoothStep((atMs - event.easeMs) / (event.endMs - event.easeMs)));
      bar = event.kind === 'by' ? bar - weight * event.bar : bar + weight * Math.min(0, event.bar - bar);
    }
    return bar;
  }

  /** Network demand as a share of the ordinary peak, to the power of friction; varies from day to day. */
  private demandShare(atMs: number): number {
    const day = this.calendar.dayOf(atMs);
    const hour = Math.min(24, Math.max(0, localHour(day, atMs)));
    const today = this.dayScale(day) * factorAt(day.weekday, hour);
    return (today / PEAK_FACTOR) ** NETWORK_LOSS_EXPONENT;
  }

  private readonly scales = new Map<string, number>();

  private dayScale(day: LocalDay): number {
    let scale = this.scales.get(day.date);
    if (scale === undefined) {
      scale = Math.max(
        0.6,
        Math.min(1.5, new RandomStream(this.plan.seed, 'demand', day.date).normal(1, this.plan.dayVariation)),
      );
      this.scales.set(day.date, scale);
    }
    return scale;
  }

  private eventsNear(dayStartMs: number): FallEvent[] {
    const events: FallEvent[] = this.plan.single.map((single) => {
      const fullMs = single.startMs + single.fallEdgeHours * 3_600_000;
      const easeMs = fullMs + single.heldHours * 3_600_000;
      return {
        startMs: single.startMs,
        fullMs,
        easeMs,
        endMs: easeMs + single.recoveryHours * 3_600_000,
        ...single.fall,
      };
    });
    for (const day of this.calendar.days(dayStartMs - DAY_MS, dayStartMs + DAY_MS + 3_600_000)) {
      this.plan.recurring.forEach((rule, index) => {
        events.push(...fallsOfDay(rule, day, new RandomStream(this.plan.seed, 'fall', index, day.date)));
      });
    }
    return events.filter((event) => event.endMs > dayStartMs && event.startMs < dayStartMs + DAY_MS + NODE_S * 1000);
  }
}

function fallsOfDay(rule: RecurringFall, day: LocalDay, random: RandomStream): FallEvent[] {
  const weekend = day.weekday >= 6;
  if ((rule.days === 'weekdays' && weekend) || (rule.days === 'weekend' && !weekend)) return [];
  if (!random.chance(rule.probability)) return [];
  const times = rule.times ? Math.round(random.uniform(...rule.times)) : 1;
  return Array.from({ length: times }, () => {
    const startMs = day.at(random.uniform(...rule.startHour));
    const fullMs = startMs + random.uniform(...rule.edgeHours) * 3_600_000;
    const easeMs = fullMs + random.uniform(...rule.heldHours) * 3_600_000;
    const endMs = easeMs + random.uniform(...rule.edgeHours) * 3_600_000;
    return { startMs, fullMs, easeMs, endMs, kind: rule.fall.kind, bar: random.uniform(...rule.fall.bar) };
  });
}

/** The hour that the site's clock shows, by the share of its day that has passed on days of other lengths too. */
function localHour(day: LocalDay, atMs: number): number {
  const hour = (atMs - day.startMs) / 3_600_000;
  const length = (day.endMs - day.startMs) / 3_600_000;
  // Clock changes come in the small hours: what is left of the day tells the hour shown from then on.
  return hour < 4 ? hour : hour + (24 - length);
}

function factorAt(weekday: number, hour: number): number {
  const table = weekday >= 6 ? WEEKEND_FACTORS : WEEKDAY_FACTORS;
  const shifted = hour - 0.5;
  const whole = Math.floor(shifted);
  const share = shifted - whole;
  return table[(whole + 24) % 24]! * (1 - share) + table[(whole + 1 + 24) % 24]! * share;
}

/** 0 before, 1 after, with a smooth passage: streets have no corners. */
function smoothStep(x: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  return x * x * (3 - 2 * x);
}

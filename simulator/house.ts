import type { Position } from '../collector/model/channel.ts';
import { Booster, type BoosterPlan } from './booster.ts';
import { type HouseholdPlan, plannedDraws } from './household.ts';
import { LocalCalendar } from './local-day.ts';
import { OpenDraws } from './open-draws.ts';
import { noOutlets, outletFlowLpm, runningBar, type ServicePipes } from './plumbing.ts';
import { Street, type StreetPlan } from './street.ts';
import { DAY_MS, SECONDS_A_DAY } from './street-noise.ts';

/** From a moment on the booster is so; the first stage's moment is when it was fitted. */
export interface BoosterStage {
  readonly fromMs: number;
  readonly plan: BoosterPlan;
}

export interface HousePlan {
  readonly timeZone: string;
  readonly street: StreetPlan;
  readonly household: HouseholdPlan;
  readonly neighbour: HouseholdPlan | undefined;
  readonly pipes: ServicePipes;
  /** From then on the own pipe's loss is so many times what it was: a stop tap half shut, a blocked strainer. */
  readonly throttled: { readonly fromMs: number; readonly lossTimes: number } | undefined;
  /** Overshoot for each l/min a second that is shut off, in bar. */
  readonly ringBarPerLpmS: number;
  readonly position: Position;
  readonly booster: readonly BoosterStage[];
}

/** What was truly so, one value a second; sample i is the instant `startMs + i·1000`. */
export interface TrueColumns {
  readonly startMs: number;
  /** At the logger with the household's outlets shut; of the supply where a booster stands in between. */
  readonly standingBar: Float64Array;
  /** At the transducer. */
  readonly pressureBar: Float64Array;
  /** The household's own flow: mean over the second that ends at the sample. */
  readonly ownLpm: Float64Array;
  /** Before the pump. Only with a booster. */
  readonly inletBar: Float64Array | undefined;
  /** 1 while the pump is on. Only with a booster. */
  readonly pumpOn: Float64Array | undefined;
  readonly pumpRuns: readonly PumpRun[];
}

export interface PumpRun {
  readonly startMs: number;
  /** Undefined while it still ran when the columns ended. */
  stopMs: number | undefined;
  readonly onDemand: boolean;
}

/** A pipe rings at a few hertz and is still after a second: at 1 Hz only the odd sample catches it. */
const RING_HERTZ = 4.3;
const RING_DECAY_S = 0.35;
const RING_SEEN_S = 2;
const RING_MOST_BAR = 0.8;
/** Under this the household draws nothing: a drip is a leak, not a use. */
const DRAWS_ABOVE_LPM = 0.05;
/** A stiff vessel empties within a second; a sound one doesn't. */
const FINE_STEPS_STIFF = 10;
const FINE_STEPS_SOUND = 5;

/** A house and its street, moved on second by second. The same plan and start give the same seconds. */
export class House {
  private readonly plan: HousePlan;
  private readonly street: Street;
  private readonly calendar: LocalCalendar;
  private readonly draws = new OpenDraws();
  private readonly open = noOutlets();
  private readonly throttledPipes: ServicePipes;
  private plannedToMs: number;
  private nowMs: number;
  private lastBar = 0;
  private lastFlowLpm = 0;
  private booster: Booster | undefined;
  private stage = -1;
  private drewSinceStop = false;
  private run: PumpRun | undefined;
  private neighbour: { dayStartMs: number; flow: Float64Array } | undefined;

  constructor(plan: HousePlan, startMs: number) {
    this.plan = plan;
    this.street = new Street(plan.street);
    this.calendar = new LocalCalendar(plan.timeZone);
    const own = plan.pipes.own;
    this.throttledPipes = {
      shared: plan.pipes.shared,
      own: { k: own.k * (plan.throttled?.lossTimes ?? 1), exponent: own.exponent },
    };
    this.nowMs = startMs;
    this.plannedToMs = this.calendar.dayOf(startMs).startMs;
  }

  /** The next `count` seconds. */
  next(count: number): TrueColumns {
    const withPump = this.plan.booster.length > 0;
    const columns = {
      startMs: this.nowMs,
      standingBar: new Float64Array(count),
      pressureBar: new Float64Array(count),
      ownLpm: new Float64Array(count),
      inletBar: withPump ? new Float64Array(count) : undefined,
      pumpOn: withPump ? new Float64Array(count) : undefined,
      pumpRuns: [] as PumpRun[],
    };
    if (this.run) columns.pumpRuns.push(this.run);
    let dayStartMs = -1;
    let street: Float64Array = new Float64Array(0);
    let neighbour: Float64Array | undefined;
    for (let i = 0; i < count; i++) {
      const dayMs = Math.floor(this.nowMs / DAY_MS) * DAY_MS;
      if (dayMs !== dayStartMs) {
        dayStartMs = dayMs;
        street = this.street.day(dayMs);
        neighbour = this.neighbourFlow(dayMs);
      }
      const second = Math.floor((this.nowMs - dayMs) / 1000);
      const mainBar = street[second]!;
      const neighbourLpm = neighbour ? neighbour[second]! : 0;
      this.planDraws();
      this.enterStage(mainBar);
      const pipes = this.pipes();
      let standing = mainBar;
      if (pipes.shared && neighbourLpm > 0) standing -= pipes.shared.k * neighbourLpm ** pipes.shared.exponent;
      columns.standingBar[i] = Math.max(0, standing);
      columns.pressureBar[i] = this.booster
        ? this.boostedSecond(this.booster, columns.standingBar[i]!, pipes, columns.pumpRuns)
        : this.plainSecond(mainBar, columns.standingBar[i]!, neighbourLpm, pipes);
      columns.ownLpm[i] = this.secondLpm;
      if (columns.inletBar) columns.inletBar[i] = this.booster ? this.booster.inletBar : columns.pressureBar[i]!;
      if (columns.pumpOn) columns.pumpOn[i] = this.booster?.on ? 1 : 0;
      this.nowMs += 1000;
    }
    return columns;
  }

  private secondLpm = 0;

  private plainSecond(mainBar: number, standing: number, neighbourLpm: number, pipes: ServicePipes): number {
    const atMs = this.nowMs;
    if (!this.draws.busyBefore(atMs)) {
      this.secondLpm = this.lastFlowLpm / 2;
      this.lastFlowLpm = 0;
      this.lastBar = standing;
      return standing + this.ringing(atMs);
    }
    this.draws.openAt(atMs, this.open);
    const bar = runningBar(pipes, mainBar, neighbourLpm, this.open, this.lastBar);
    const flow = outletFlowLpm(this.open, bar);
    this.draws.ran(atMs, 1, bar);
    this.secondLpm = (flow + this.lastFlowLpm) / 2;
    this.lastFlowLpm = flow;
    this.lastBar = bar;
    return bar + this.ringing(atMs);
  }

  private boostedSecond(booster: Booster, standing: number, pipes: ServicePipes, runs: PumpRun[]): number {
    const endMs = this.nowMs;
    const busy = this.draws.busyBefore(endMs);
    if (!busy) this.open.count = 0;
    if (!busy && booster.isResting(this.open, standing)) {
      this.secondLpm = 0;
      booster.inletBar = standing;
      booster.flowLpm = 0;
      return this.plan.position === 'pump_inlet' ? standing : booster.bar;
    }
    const sound = booster.plan.airShare > 0.5 && booster.plan.cutOutBar - booster.plan.cutInBar > 0.5;
    const steps = !busy && booster.isSlow(this.open, standing) ? 1 : sound ? FINE_STEPS_SOUND : FINE_STEPS_STIFF;
    let litres = 0;
    for (let step = 1; step <= steps; step++) {
      const atMs = endMs - 1000 + (1000 * step) / steps;
      this.draws.openAt(atMs, this.open);
      booster.step(1 / steps, standing, pipes.own, this.open);
      const flow = outletFlowLpm(this.open, booster.bar);
      this.draws.ran(atMs, 1 / steps, booster.bar);
      litres += flow / 60 / steps;
      if (flow > DRAWS_ABOVE_LPM) this.drewSinceStop = true;
      this.followPump(booster, atMs, runs);
    }
    this.secondLpm = litres * 60;
    this.lastFlowLpm = this.secondLpm;
    return this.plan.position === 'pump_inlet' ? booster.inletBar : booster.bar;
  }

  private followPump(booster: Booster, atMs: number, runs: PumpRun[]): void {
    if (booster.on && !this.run) {
      this.run = { startMs: atMs, stopMs: undefined, onDemand: this.drewSinceStop };
      runs.push(this.run);
    } else if (!booster.on && this.run) {
      this.run.stopMs = atMs;
      this.run = undefined;
      this.drewSinceStop = false;
    }
  }

  private ringing(atMs: number): number {
    const shut = this.draws.lastShut;
    if (!shut) return 0;
    const since = (atMs - shut.atMs) / 1000;
    if (since > RING_SEEN_S) {
      this.draws.lastShut = undefined;
      return 0;
    }
    if (since < 0) return 0;
    const height = Math.min(RING_MOST_BAR, this.plan.ringBarPerLpmS * shut.lpmPerSecond);
    return height * Math.exp(-since / RING_DECAY_S) * Math.cos(2 * Math.PI * RING_HERTZ * since);
  }

  private pipes(): ServicePipes {
    const { throttled } = this.plan;
    return throttled && this.nowMs >= throttled.fromMs ? this.throttledPipes : this.plan.pipes;
  }

  private enterStage(mainBar: number): void {
    const next = this.plan.booster[this.stage + 1];
    if (!next || this.nowMs < next.fromMs) return;
    this.stage++;
    if (this.booster) this.booster.become(next.plan);
    else this.booster = new Booster(next.plan, Math.max(mainBar, next.plan.cutOutBar), mainBar);
  }

  private planDraws(): void {
    while (this.plannedToMs <= this.nowMs) {
      const day = this.calendar.dayOf(this.plannedToMs);
      const late = plannedDraws(this.plan.household, day).filter((draw) => draw.startMs >= this.nowMs - 1000);
      this.draws.plan(late);
      this.plannedToMs = day.endMs;
    }
  }

  /** The neighbour's flow at each second of a UTC day, taken at the published flows: only its own house feels the pressure. */
  private neighbourFlow(dayStartMs: number): Float64Array | undefined {
    const { neighbour } = this.plan;
    if (!neighbour) return undefined;
    if (this.neighbour?.dayStartMs === dayStartMs) return this.neighbour.flow;
    const flow = new Float64Array(SECONDS_A_DAY);
    for (const day of this.calendar.days(dayStartMs - DAY_MS, dayStartMs + DAY_MS)) {
      for (const draw of plannedDraws(neighbour, day)) {
        const lpm = draw.coefficient * Math.sqrt(Math.max(0.2, neighbour.designBar - draw.heightBar));
        const seconds = draw.limit.kind === 'seconds' ? draw.limit.seconds : (draw.limit.litres * 60) / lpm;
        const from = (draw.startMs - dayStartMs) / 1000;
        const to = from + Math.min(seconds, draw.mostSeconds);
        for (let s = Math.max(0, Math.ceil(from)); s < Math.min(SECONDS_A_DAY, to + draw.closeS); s++) {
          const opening = Math.min(1, (s - from) / draw.openS, Math.max(0, 1 - (s - to) / draw.closeS));
          flow[s]! += lpm * opening;
        }
      }
    }
    this.neighbour = { dayStartMs, flow };
    return flow;
  }
}

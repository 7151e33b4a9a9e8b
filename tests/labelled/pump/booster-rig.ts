/*
 * Another booster than the simulator's and the small labelled house's, for logs that neither has seen: adaptive steps
 * bound to the pressure's own rate, a pump curve H0·n² − B·Qᶜ·n^(2−c) of any bend, a switch that waits, a bladder that
 * may rest on its seat, a gas law of any polytropic index, float valves that close by and by, a meter that rounds.
 */
import type { RigDraw } from './rig-demand.ts';
import type { RigRandom } from './rig-random.ts';

const ATMOSPHERE = 1.01325;
export const RIG_START_MS = Date.UTC(2026, 2, 9);

export interface RigPlan {
  readonly cutInBar: number;
  readonly cutOutBar: number;
  readonly onDelayS: number;
  readonly offDelayS: number;
  /** A controller that stops on no flow instead of on pressure, after this long; undefined for a pressure switch. */
  readonly noFlowStopS?: number | undefined;
  readonly shutOffBar: number;
  readonly runOutLpm: number;
  readonly curveBend: number;
  readonly spinUpS: number;
  readonly vesselL: number;
  /** Gauge. */
  readonly preChargeBar: number;
  readonly polytropic: number;
  readonly pipesLPerBar: number;
  /** Litres a minute at 3 bar of difference, with the power of the difference. */
  readonly leakLpm: number;
  readonly leakPower: number;
  /** The transducer's reading at which the leak would cease: its height above the transducer; missing: nought. */
  readonly leakEndBar?: number | undefined;
  readonly valveLpm: number;
  readonly valvePower: number;
  /** Loss between the vessel and the transducer at 20 l/min of pump flow: read on top while it runs. */
  readonly sensorLossBar?: number | undefined;
  /** Seconds in which gas that was squeezed warm cools again; 0 or missing: at once, by the gas law above alone. */
  readonly coolsS?: number | undefined;
  /** No water reaches the pump: it turns without lifting. */
  readonly dry: boolean;
  readonly present: boolean;
  /** A switch or a motor that fails: a pump at rest stays so, one that runs goes on. */
  readonly neverStarts?: boolean | undefined;
  readonly neverStops?: boolean | undefined;
  /** Share of its flow that a pump loses a day, and how far its cut-out sinks meanwhile. */
  readonly dailyWear?: number | undefined;
  readonly dailyDriftBar?: number | undefined;
}

export interface RigStage {
  readonly fromS: number;
  readonly plan: RigPlan;
}

export interface RigHouse {
  readonly days: number;
  readonly intervalS: number;
  readonly stages: readonly RigStage[];
  readonly draws: readonly RigDraw[];
  readonly streetBar: number;
  readonly swingBar: number;
  /** Loss of the service pipe at 20 l/min. */
  readonly serviceLossBar: number;
  readonly noiseBar: number;
  readonly quantumBar: number;
  readonly inletQuantumBar: number;
}

export interface RigStart {
  readonly startMs: number;
  stopMs: number | undefined;
  readonly onDemand: boolean;
  lowestInletBar: number;
  /** Seconds within the run with the inlet below each hundredth of 0.3 bar. */
  weakFromMs: number | undefined;
  weakToMs: number | undefined;
}

export interface RigLog {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly inletBar: Float64Array;
  /** What the inlet would show with the pump off, without noise. */
  readonly streetBar: Float64Array;
  /** What a meter behind the vessel shows, and one between the pump and its vessel. */
  readonly flowLpm: Float64Array;
  readonly pumpFlowLpm: Float64Array;
  readonly pumpOn: Float64Array;
  readonly starts: readonly RigStart[];
}

/** No step may change the pressure by more than this. */
const STEP_BAR = 0.015;
const SHORTEST_STEP_S = 0.01;
const LONGEST_STEP_S = 0.5;
export const WEAK_BAR = 0.3;

export function runRig(house: RigHouse, random: RigRandom): RigLog {
  const rows = Math.floor((house.days * 86_400) / house.intervalS);
  const log = {
    timeMs: new Float64Array(rows),
    pressureBar: new Float64Array(rows),
    inletBar: new Float64Array(rows),
    streetBar: new Float64Array(rows),
    flowLpm: new Float64Array(rows),
    pumpFlowLpm: new Float64Array(rows),
    pumpOn: new Float64Array(rows),
    starts: [] as RigStart[],
  };
  const service = house.serviceLossBar / 20 ** 1.85;
  const { draws } = house;
  let stage = 0;
  let plan = house.stages[0]!.plan;
  let bar = plan.present ? plan.cutInBar + 0.7 * (plan.cutOutBar - plan.cutInBar) : house.streetBar;
  let on = false;
  let wantsSince = Number.NaN;
  let speed = 0;
  let flow = 0;
  let rate = 0;
  let open: RigDraw[] = [];
  let nextDraw = 0;
  let drawnS = 0;
  let litres = 0;
  let pumpedLitres = 0;
  let wander = 0;
  let warmth = 0;
  let wanderAtS = 0;
  let s = 0;
  for (let row = 0; row < rows; row++) {
    const rowS = row * house.intervalS;
    while (s < rowS) {
      while (stage + 1 < house.stages.length && house.stages[stage + 1]!.fromS <= s) plan = house.stages[++stage]!.plan;
      while (nextDraw < draws.length && draws[nextDraw]!.fromS <= s) open.push(draws[nextDraw++]!);
      if (open.length > 0) open = open.filter((draw) => draw.toS > s);
      const busy = on || speed > 0.01 || !Number.isNaN(wantsSince);
      const bound = Math.max(
        SHORTEST_STEP_S,
        Math.min(busy ? 0.1 : LONGEST_STEP_S, STEP_BAR / Math.max(1e-9, Math.abs(rate))),
      );
      const untilDraw =
        nextDraw < draws.length ? Math.max(SHORTEST_STEP_S, draws[nextDraw]!.fromS - s) : LONGEST_STEP_S;
      const dt = Math.min(bound, untilDraw, Math.max(1e-6, rowS - s));
      if (s - wanderAtS > 5) {
        wander += 0.02 * (0.05 * random.normal()) - 0.004 * wander;
        wanderAtS = s;
      }
      const street = Math.max(0, house.streetBar - house.swingBar * busyHour((s / 3600) % 24) + wander);

      // The switch, with its waiting; the motor turns when the waiting is over.
      const sticks = on ? plan.neverStops : plan.neverStarts;
      const wants = plan.present && !sticks && (on ? wantsStop(plan, bar, flow) : bar <= plan.cutInBar);
      if (!wants) wantsSince = Number.NaN;
      else if (Number.isNaN(wantsSince)) wantsSince = s;
      const wait = on ? (plan.noFlowStopS ?? plan.offDelayS) : plan.onDelayS;
      if ((wants && s - wantsSince >= wait) || (on && !plan.present)) {
        on = !on;
        wantsSince = Number.NaN;
        if (on) {
          log.starts.push({
            startMs: RIG_START_MS + 1000 * s,
            stopMs: undefined,
            onDemand: drawnS > 0.5,
            lowestInletBar: 99,
            weakFromMs: undefined,
            weakToMs: undefined,
          });
        } else {
          log.starts[log.starts.length - 1]!.stopMs = RIG_START_MS + 1000 * s;
          drawnS = 0;
        }
      }
      speed += ((on ? 1 : 0) - speed) * Math.min(1, dt / plan.spinUpS);
      if (!on && speed < 0.01) speed = 0;

      let drawn = 0;
      for (const draw of open) {
        const law = draw.regulated ? Math.min(1, Math.sqrt(Math.max(0, bar))) : Math.sqrt(Math.max(0, bar) / 3);
        const closing = draw.closingS > 0 ? Math.min(1, (draw.toS - s) / draw.closingS) : 1;
        drawn += draw.lpm * law * closing;
      }
      if (!on && drawn > 0.2) drawnS += dt;
      const leak = plan.leakLpm * (Math.max(0, bar - (plan.leakEndBar ?? 0)) / 3) ** plan.leakPower;
      const back = speed < 0.3 && bar > street ? plan.valveLpm * ((bar - street) / 3) ** plan.valvePower : 0;
      flow = pumpFlow(plan, service, street, speed, bar, flow);
      const capacity = plan.present ? storeLPerBar(plan, bar) : 0.02;
      const net = (flow - drawn - leak - back) / 60;
      // Damped by how strongly flow answers the pressure: a stiff plant settles instead of ringing.
      const answer =
        (drawn / Math.max(0.1, 2 * bar) + flow / Math.max(0.05, 2 * Math.abs(street + plan.shutOffBar * speed - bar))) /
        60;
      const step = (net * dt) / (capacity + answer * dt);
      rate = step / dt;
      const moved = Math.max(-0.2, Math.min(0.2, step));
      bar = Math.max(0, bar + moved);
      if (plan.coolsS && plan.vesselL > 0 && bar > plan.preChargeBar) {
        // A third of the adiabatic share: walls and bladder take up the rest at once.
        warmth += (0.1 * moved) / (bar + ATMOSPHERE);
        const cooled = warmth * (1 - Math.exp(-dt / plan.coolsS));
        warmth -= cooled;
        bar -= cooled * (bar + ATMOSPHERE);
      }
      litres += (drawn * dt) / 60;
      pumpedLitres += (flow * dt) / 60;
      s += dt;
      if (on) noteInlet(log.starts[log.starts.length - 1]!, street - service * flow ** 1.85, RIG_START_MS + 1000 * s);
      if (row > 0 && s >= rowS - 1e-9) s = rowS;
    }
    const street = Math.max(0, house.streetBar - house.swingBar * busyHour((rowS / 3600) % 24) + wander);
    log.timeMs[row] = RIG_START_MS + 1000 * rowS;
    log.streetBar[row] = street;
    const onTopBar = flow > 0 ? (plan.sensorLossBar ?? 0) * (flow / 20) ** 2 : 0;
    log.pressureBar[row] = read(random, bar + onTopBar, house.noiseBar, house.quantumBar);
    log.inletBar[row] = read(
      random,
      plan.dry ? 0 : street - service * flow ** 1.85,
      house.noiseBar,
      house.inletQuantumBar,
    );
    log.flowLpm[row] = metered((60 * litres) / house.intervalS);
    log.pumpFlowLpm[row] = metered((60 * pumpedLitres) / house.intervalS);
    log.pumpOn[row] = on ? 1 : 0;
    litres = 0;
    pumpedLitres = 0;
  }
  return log;
}

/** A meter that stands still at a trickle and rounds. */
function metered(lpm: number): number {
  return lpm < 0.25 ? 0 : Math.round(lpm * 10) / 10;
}

function wantsStop(plan: RigPlan, bar: number, flowLpm: number): boolean {
  return plan.noFlowStopS === undefined ? bar >= plan.cutOutBar : flowLpm < 0.8 && bar > plan.cutInBar;
}

function noteInlet(start: RigStart, inletBar: number, atMs: number): void {
  start.lowestInletBar = Math.min(start.lowestInletBar, inletBar);
  if (inletBar >= WEAK_BAR) return;
  start.weakFromMs ??= atMs;
  start.weakToMs = atMs;
}

/** Litres a bar: the gas by p·Vᵏ = const, none while the bladder rests on its seat; the pipes always. */
function storeLPerBar(plan: RigPlan, bar: number): number {
  if (plan.vesselL <= 0 || bar < plan.preChargeBar) return plan.pipesLPerBar;
  const absolute = bar + ATMOSPHERE;
  const gasL = plan.vesselL * ((plan.preChargeBar + ATMOSPHERE) / absolute) ** (1 / plan.polytropic);
  return gasL / (plan.polytropic * absolute) + plan.pipesLPerBar;
}

/** Root of k·Q^1.85 + B·Qᶜ·n^(2−c) = street + H0·n² − p: the pump and its service pipe in one line, by Newton. */
function pumpFlow(plan: RigPlan, service: number, street: number, speed: number, bar: number, guess: number): number {
  const drive = street + (plan.dry || !plan.present ? 0 : plan.shutOffBar * speed * speed) - bar;
  if (drive <= 1e-6 || plan.dry) return 0;
  const bend = plan.curveBend;
  const b = (plan.shutOffBar / plan.runOutLpm ** bend) * Math.max(0.05, speed) ** (2 - bend);
  let flow = Math.max(guess, 0.5);
  for (let k = 0; k < 12; k++) {
    const pipe = service * flow ** 1.85;
    const pump = b * flow ** bend;
    const next = flow - (pipe + pump - drive) / ((1.85 * pipe + bend * pump) / flow);
    const kept = Math.max(next, 0.2 * flow);
    if (Math.abs(kept - flow) < 1e-4 * flow) return kept;
    flow = kept;
  }
  return flow;
}

function busyHour(hour: number): number {
  return Math.exp(-(((hour - 7.7) / 1.4) ** 2)) + 0.8 * Math.exp(-(((hour - 19.3) / 2) ** 2));
}

function read(random: RigRandom, bar: number, noiseBar: number, quantumBar: number): number {
  // A transducer for gauge pressure hardly goes below nought.
  const noisy = Math.max(-0.03, bar + noiseBar * random.normal());
  const step = quantumBar > 0 ? quantumBar : 0.001;
  return Math.round(Math.round(noisy / step) * step * 1e5) / 1e5;
}

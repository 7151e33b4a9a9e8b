/*
 * A small physical house with a booster, for labelled logs: the vessel's gas by Boyle's law beside the pipes' own
 * elasticity, taps and leaks by Torricelli's law, a quadratic pump curve, a pressure switch, a main that sags with the
 * hour and with the flow. Integrated in steps of a tenth of a second; nothing here is shared with the analysis.
 */
import { random } from './seeded-random.ts';

const ATMOSPHERE = 1.01325;
const STEP_S = 0.1;
export const START_MS = Date.UTC(2026, 4, 4);

export interface HouseOptions {
  readonly days?: number;
  readonly intervalS?: number;
  readonly noiseBar?: number;
  readonly quantumBar?: number;
  readonly seed?: number;
  /** Absolute pre-charge times volume: 8 l at 1.8 bar gauge are 22.5 bar·l. */
  readonly gasBarL?: number;
  readonly cutInBar?: number;
  readonly cutOutBar?: number;
  /** Litres a minute at 1 bar, through the leak to the air and back through the check valve. */
  readonly leakLpm?: number;
  readonly valveLpm?: number;
  /** Power of the pressure difference in both: 0.5 for an orifice, 1 for a narrow seat. */
  readonly faultPower?: number;
  /** Stiffness of a plant whose water stretches pipes instead of a gas, l/bar; the gas is then left out. */
  readonly stretchLPerBar?: number;
  readonly faultFromDay?: number;
  readonly faultToDay?: number;
  readonly inletBar?: number;
  readonly inletSwingBar?: number;
  /** Loss of the service pipe at 30 l/min. */
  readonly serviceLossBar?: number;
  readonly pumpLpm?: number;
  readonly pumpBar?: number;
  readonly drawsPerDay?: number;
  readonly boosterFromDay?: number;
  readonly boosterToDay?: number;
}

export interface LabelledLog {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly inletBar: Float64Array;
  readonly flowLpm: Float64Array;
  readonly pumpOn: Float64Array;
  readonly starts: { startMs: number; stopMs?: number; onDemand: boolean; lowestInletBar: number }[];
}

interface Draw {
  readonly fromS: number;
  readonly toS: number;
  readonly lpmAt1Bar: number;
}

export function boosterHouse(options: HouseOptions): LabelledLog {
  const {
    days = 2,
    intervalS = 1,
    noiseBar = 0.005,
    quantumBar = 0.001,
    seed = 1,
    gasBarL = 22.5,
    cutInBar = 2,
    cutOutBar = 3.5,
    leakLpm = 0,
    valveLpm = 0,
    faultPower = 0.5,
    stretchLPerBar,
    faultFromDay = 0,
    faultToDay = Number.POSITIVE_INFINITY,
    inletBar = 1.2,
    inletSwingBar = 0.3,
    serviceLossBar = 0.4,
    pumpLpm = 45,
    pumpBar = 4.2,
    drawsPerDay = 45,
    boosterFromDay = 0,
    boosterToDay = Number.POSITIVE_INFINITY,
  } = options;
  const next = random(seed);
  const draws = demand(next, days, drawsPerDay);
  const rows = Math.floor((days * 86_400) / intervalS);
  const log = {
    timeMs: new Float64Array(rows),
    pressureBar: new Float64Array(rows),
    inletBar: new Float64Array(rows),
    flowLpm: new Float64Array(rows),
    pumpOn: new Float64Array(rows),
    starts: [] as LabelledLog['starts'],
  };
  const steps = Math.round(intervalS / STEP_S);
  let bar = boosterFromDay > 0 ? inletBar : 0.5 * (cutInBar + cutOutBar);
  let on = false;
  let speed = 0;
  let drawnSteps = 0;
  let drawIndex = 0;
  let open: Draw[] = [];
  let litres = 0;
  for (let step = 0; step < rows * steps; step++) {
    const s = step * STEP_S;
    const day = s / 86_400;
    while (drawIndex < draws.length && draws[drawIndex]!.fromS <= s) open.push(draws[drawIndex++]!);
    if (open.length > 0) open = open.filter((draw) => draw.toS > s);
    let opening = 0;
    for (const draw of open) opening += draw.lpmAt1Bar;
    const faulty = day >= faultFromDay && day < faultToDay;
    const fitted = day >= boosterFromDay && day < boosterToDay;
    const street = inletBar - inletSwingBar * sag(day);
    const root = Math.sqrt(Math.max(0, bar));
    const draw = opening * root;
    const leak = faulty ? leakLpm * Math.max(0, bar) ** faultPower : 0;
    if (!on && open.length > 0) drawnSteps++;
    // Switch, then a spin-up of most of a second.
    if (fitted && !on && bar <= cutInBar) {
      on = true;
      log.starts.push({ startMs: START_MS + s * 1000, onDemand: drawnSteps * STEP_S > 1, lowestInletBar: 99 });
    } else if (on && (bar >= cutOutBar || !fitted)) {
      on = false;
      drawnSteps = 0;
      log.starts[log.starts.length - 1] = { ...log.starts[log.starts.length - 1]!, stopMs: START_MS + s * 1000 };
    }
    speed += (on ? 1 - speed : -speed) * Math.min(1, STEP_S / 0.4);
    // Flow from the main: the pump's head at this speed lifts the inlet to the outlet; a check valve stops the rest.
    const head = fitted ? pumpBar * speed * speed : 0;
    const through = Math.max(0, street + head - bar);
    const resistance = (fitted ? pumpBar / pumpLpm ** 2 : 0.1 / 900) + serviceLossBar / 900;
    const inflow = Math.sqrt(through / resistance);
    const inlet = street - serviceLossBar * (inflow / 30) ** 2;
    const back = faulty && bar > street ? valveLpm * (bar - street) ** faultPower : 0;
    const absolute = bar + ATMOSPHERE;
    const elasticity = (fitted ? (stretchLPerBar ?? gasBarL / absolute ** 2) : 0) + 0.01;
    const change = (((inflow - draw - leak - back) / 60) * STEP_S) / elasticity;
    // A stiff house settles at once: no step may carry the pressure past where in and out balance.
    bar = Math.max(0, bar + Math.max(-0.15, Math.min(0.15, change)));
    litres += (draw / 60) * STEP_S;
    if (on) {
      const start = log.starts[log.starts.length - 1]!;
      if (inlet < start.lowestInletBar) log.starts[log.starts.length - 1] = { ...start, lowestInletBar: inlet };
    }
    if (step % steps === 0) {
      const row = step / steps;
      log.timeMs[row] = START_MS + s * 1000;
      log.pressureBar[row] = read(next, bar, noiseBar, quantumBar);
      log.inletBar[row] = read(next, inlet, noiseBar, quantumBar);
      log.flowLpm[row] = (litres / intervalS) * 60;
      log.pumpOn[row] = on ? 1 : 0;
      litres = 0;
    }
  }
  return log;
}

function read(next: () => number, bar: number, noiseBar: number, quantumBar: number): number {
  const noisy = bar + noiseBar * Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
  return quantumBar > 0 ? Math.round(noisy / quantumBar) * quantumBar : noisy;
}

/** Share of the day's sag: two humps, at breakfast and in the evening. */
function sag(day: number): number {
  const hour = (day % 1) * 24;
  return Math.exp(-(((hour - 7.5) / 1.2) ** 2)) + 0.8 * Math.exp(-(((hour - 19) / 1.8) ** 2));
}

function demand(next: () => number, days: number, perDay: number): Draw[] {
  const draws: Draw[] = [];
  for (let k = 0; k < days * perDay; k++) {
    let hour = 24 * next();
    while (next() > 0.04 + 0.96 * Math.min(1, sag(hour / 24) + (hour > 8 && hour < 22 ? 0.35 : 0))) hour = 24 * next();
    const fromS = (Math.floor(next() * days) * 24 + hour) * 3600;
    const kind = next();
    const lengthS = kind < 0.55 ? 5 + 55 * next() : kind < 0.85 ? 50 + 30 * next() : 200 + 400 * next();
    const lpm = kind < 0.55 ? 2 + 7 * next() : kind < 0.85 ? 5 + 3 * next() : 6 + 6 * next();
    draws.push({ fromS, toS: fromS + lengthS, lpmAt1Bar: lpm / Math.sqrt(3) });
  }
  return draws.sort((a, b) => a.fromS - b.fromS);
}

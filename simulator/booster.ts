import { type OpenOutlets, outletFlowLpm, type PipeLoss } from './plumbing.ts';

/** Standard atmosphere in bar: Boyle's law wants absolute pressures. */
export const ATMOSPHERE_BAR = 1.01325;

export type BoosterFailure = 'air_locked' | 'never_starts' | 'never_stops';

export interface BoosterPlan {
  /** Head at no flow and the flow at which the head is nought, at full speed; H = shutOff·s² − b·Q². */
  readonly shutOffBar: number;
  readonly runOutLpm: number;
  readonly spinUpS: number;
  readonly cutInBar: number;
  readonly cutOutBar: number;
  readonly switchDelayS: number;
  readonly vesselLitres: number;
  readonly preChargeBar: number;
  /** Share of the vessel that still holds air at the pre-charge: 1 when sound, a few hundredths when waterlogged. */
  readonly airShare: number;
  /** Outflow behind the pump that nobody wants, l/min per √bar. */
  readonly leakCoefficient: number;
  /** Flow back through a passing check valve, l/min per √bar of difference; 0 when it holds. */
  readonly checkValveCoefficient: number;
  /** Air-locked it turns without lifting; a dead switch never starts it, a welded one never stops it. Missing: sound. */
  readonly failure?: BoosterFailure | undefined;
  /** Pump stops when its inlet stays under this; undefined without such a guard. */
  readonly dryRunBar: number | undefined;
}

/**
 * Water that a vessel gives between cut-out and cut-in, in litres: V·(P0/Pin − P0/Pout), absolute pressures (Boyle,
 * isothermal; as worked in the drilling trade's press).
 */
export function drawdownLitres(
  vesselLitres: number,
  preChargeBar: number,
  cutInBar: number,
  cutOutBar: number,
): number {
  const p0 = preChargeBar + ATMOSPHERE_BAR;
  return vesselLitres * (p0 / (cutInBar + ATMOSPHERE_BAR) - p0 / (cutOutBar + ATMOSPHERE_BAR));
}

/** Head that the pump adds at a speed share: affinity laws, Q ∝ n and H ∝ n². */
export function pumpHeadBar(
  plan: Pick<BoosterPlan, 'shutOffBar' | 'runOutLpm'>,
  speed: number,
  flowLpm: number,
): number {
  return plan.shutOffBar * (speed * speed - (flowLpm / plan.runOutLpm) ** 2);
}

/** Pipes give a little even without air: litres per bar that remain when a vessel is full of water. */
const PIPE_ELASTICITY_L_PER_BAR = 0.012;
const NO_DRIVE_BAR = 1e-9;
/** A dry-run guard waits this long, then lets the pump try again after the rest. */
const DRY_RUN_WAIT_S = 8;
const DRY_RUN_REST_S = 300;

/** State of a booster between the street and the house; `step` moves it on. */
export class Booster {
  plan: BoosterPlan;
  bar: number;
  speed = 0;
  on = false;
  flowLpm = 0;
  inletBar: number;
  private beyondSwitchS = 0;
  private dryS = 0;
  private restS = 0;
  private gasConstant: number;

  constructor(plan: BoosterPlan, startBar: number, inletBar: number) {
    this.plan = plan;
    this.bar = startBar;
    this.inletBar = inletBar;
    this.gasConstant = (plan.preChargeBar + ATMOSPHERE_BAR) * plan.vesselLitres * plan.airShare;
  }

  /** Wear sets in (or is cured) while the pressure stays as it is. */
  become(plan: BoosterPlan): void {
    this.plan = plan;
    this.gasConstant = (plan.preChargeBar + ATMOSPHERE_BAR) * plan.vesselLitres * plan.airShare;
  }

  /** Nothing moves: the pressure stands until an outlet opens or the street comes above it. */
  isResting(open: OpenOutlets, mainBar: number): boolean {
    return (
      !this.on &&
      this.speed === 0 &&
      open.count === 0 &&
      this.plan.leakCoefficient === 0 &&
      this.plan.checkValveCoefficient === 0 &&
      mainBar <= this.bar &&
      this.bar > this.plan.cutInBar &&
      this.restS === 0
    );
  }

  /** No fast change under way: a leak's or valve's slow decay may be stepped by the second. */
  isSlow(open: OpenOutlets, mainBar: number): boolean {
    return (
      !this.on && this.speed === 0 && open.count === 0 && mainBar <= this.bar && this.bar > this.plan.cutInBar + 0.05
    );
  }

  /**
   * Moves on by `stepS` with these outlets open and the street at `mainBar` behind `pipe`. Semi-implicit, so that a vessel
   * without air (very stiff) stays stable.
   */
  step(stepS: number, mainBar: number, pipe: PipeLoss, open: OpenOutlets): void {
    const { plan } = this;
    this.turnSwitch(stepS);
    const target = this.on ? 1 : 0;
    const most = stepS / plan.spinUpS;
    this.speed += Math.max(-most, Math.min(most, target - this.speed));
    if (this.speed < 1e-6) this.speed = 0;

    const inAt = (bar: number): number => this.throughPump(bar, mainBar, pipe) - this.backThroughValve(bar, mainBar);
    const outAt = (bar: number): number =>
      outletFlowLpm(open, bar) + plan.leakCoefficient * Math.sqrt(Math.max(0, bar));
    const net = inAt(this.bar) - outAt(this.bar);
    const probe = 0.01;
    const slope = (net - (inAt(this.bar + probe) - outAt(this.bar + probe))) / probe;
    const litresPerBar = this.litresPerBar();
    const dt = stepS / 60;
    this.bar = Math.max(0, this.bar + (dt * net) / (litresPerBar + dt * Math.max(0, slope)));
    this.flowLpm = this.throughPump(this.bar, mainBar, pipe);
    this.inletBar = mainBar - (this.flowLpm > 0 ? pipe.k * this.flowLpm ** pipe.exponent : 0);
    if (this.inletBar < -0.9) this.inletBar = -0.9;
  }

  private litresPerBar(): number {
    const absolute = this.bar + ATMOSPHERE_BAR;
    // Under the pre-charge the bladder lies on its seat and only the pipes give.
    if (this.bar < this.plan.preChargeBar && this.plan.airShare > 0.5) return PIPE_ELASTICITY_L_PER_BAR;
    return this.gasConstant / (absolute * absolute) + PIPE_ELASTICITY_L_PER_BAR;
  }

  private throughPump(bar: number, mainBar: number, pipe: PipeLoss): number {
    const { shutOffBar, runOutLpm } = this.plan;
    const lifts = this.plan.failure === 'air_locked' ? 0 : shutOffBar * this.speed * this.speed;
    const drive = mainBar + lifts - bar;
    if (drive <= NO_DRIVE_BAR) return 0;
    const b = shutOffBar / (runOutLpm * runOutLpm);
    // Root of k·Qⁿ + b·Q² = drive, by Newton from above: the left side is convex and rising.
    let flow = Math.sqrt(drive / b);
    for (let i = 0; i < 30; i++) {
      const friction = pipe.k * flow ** pipe.exponent;
      const miss = friction + b * flow * flow - drive;
      const next = flow - miss / ((pipe.exponent * friction) / flow + 2 * b * flow);
      if (Math.abs(next - flow) < 1e-6) return next;
      flow = next;
    }
    return flow;
  }

  private backThroughValve(bar: number, mainBar: number): number {
    const difference = bar - mainBar;
    if (this.plan.checkValveCoefficient === 0 || difference <= 0 || this.speed > 0.5) return 0;
    return this.plan.checkValveCoefficient * Math.sqrt(difference);
  }

  private turnSwitch(stepS: number): void {
    const { plan } = this;
    if (this.restS > 0) this.restS = Math.max(0, this.restS - stepS);
    const beyond = this.on ? this.bar >= plan.cutOutBar : this.bar <= plan.cutInBar && this.restS === 0;
    const dead = plan.failure === (this.on ? 'never_stops' : 'never_starts');
    this.beyondSwitchS = beyond && !dead ? this.beyondSwitchS + stepS : 0;
    if (this.beyondSwitchS > plan.switchDelayS) {
      this.on = !this.on;
      this.beyondSwitchS = 0;
    }
    if (this.on && plan.dryRunBar !== undefined) {
      this.dryS = this.inletBar < plan.dryRunBar ? this.dryS + stepS : 0;
      if (this.dryS > DRY_RUN_WAIT_S) {
        this.on = false;
        this.dryS = 0;
        this.restS = DRY_RUN_REST_S;
      }
    }
  }
}

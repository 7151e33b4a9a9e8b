import { describe, expect, it } from 'vitest';
import { Booster, type BoosterPlan, drawdownLitres, pumpHeadBar } from '../../simulator/booster.ts';
import { noOutlets, type OpenOutlets } from '../../simulator/plumbing.ts';

const BAR_PER_PSI = 0.0689475729;
const NO_PIPE = { k: 0, exponent: 1.852 };

/** 8 l, pre-charge 1.8, band 2.0 to 3.5 bar, a pump that gives 30 l/min whatever the pressure in the band. */
function constantFlowBooster(changes: Partial<BoosterPlan> = {}): BoosterPlan {
  const shutOffBar = 400;
  return {
    shutOffBar,
    runOutLpm: 30 * Math.sqrt(shutOffBar / (shutOffBar - 2.75)),
    spinUpS: 0.001,
    cutInBar: 2,
    cutOutBar: 3.5,
    switchDelayS: 0,
    vesselLitres: 8,
    preChargeBar: 1.8,
    airShare: 1,
    leakCoefficient: 0,
    checkValveCoefficient: 0,
    dryRunBar: undefined,
    ...changes,
  };
}

/** An outlet that passes nearly the same at any pressure: it lies very deep. */
function steadyDraw(lpm: number): OpenOutlets {
  const open = noOutlets();
  open.count = 1;
  open.heightBar[0] = -10_000;
  open.coefficient[0] = lpm / Math.sqrt(10_002.75);
  return open;
}

describe('vessel', () => {
  // Boyle, absolute pressures. The first is a worked example of the drilling trade's press (85 US gal, 28 psi pre-charge,
  // 30/50 psi, atmosphere 14.7 psi: 25.1 gal; standard atmosphere here); the others are arithmetic.
  it.each([
    ['85 gal, 28 psi, 30/50 psi', 85, 28 * BAR_PER_PSI, 30 * BAR_PER_PSI, 50 * BAR_PER_PSI, 25.1, 0.02],
    ['8 l, 1.8, 2.0/3.5 bar', 8, 1.8, 2, 3.5, 2.48236, 1e-4],
    ['100 l, 1.3, 1.5/3.0 bar', 100, 1.3, 1.5, 3, 34.402, 1e-3],
    ['accumulator 100 l, 1.5, 1.5/3.0 bar', 100, 1.5, 1.5, 3, 37.376, 1e-3],
  ])('%s gives its drawdown', (_name, litres, preCharge, cutIn, cutOut, wanted, within) => {
    expect(Math.abs(drawdownLitres(litres, preCharge, cutIn, cutOut) - wanted)).toBeLessThan(within);
  });

  it('gauge pressures would give another answer (3.09 l)', () => {
    expect(8 * (1.8 / 2 - 1.8 / 3.5)).toBeCloseTo(3.0857, 3);
    expect(drawdownLitres(8, 1.8, 2, 3.5)).toBeLessThan(2.6);
  });

  it('the simulated vessel gives that drawdown between cut-out and cut-in', () => {
    const booster = new Booster(constantFlowBooster(), 3.5, 1);
    const open = steadyDraw(2);
    let litres = 0;
    while (booster.bar > 2 && litres < 10) {
      booster.step(0.05, 1, NO_PIPE, open);
      litres += (2 / 60) * 0.05;
    }
    // The pipes' own elasticity adds 0.018 l over 1.5 bar.
    expect(litres).toBeGreaterThan(2.48);
    expect(litres).toBeLessThan(2.52);
  });
});

describe('pump', () => {
  // Affinity: Q ∝ n, H ∝ n² (EPANET 2.2 manual). Speed 0.9 on 30 l/min, 36 m gives 27.0 l/min, 29.16 m.
  it('follows the affinity laws', () => {
    const pump = { shutOffBar: 45, runOutLpm: 67.082 };
    const full = pumpHeadBar(pump, 1, 30);
    expect(full).toBeCloseTo(36, 2);
    expect(pumpHeadBar(pump, 0.9, 27)).toBeCloseTo(full * 0.81, 6);
  });

  // H = 36 − 0.01·q² against 10 + 0.02·q²: q = 29.4392, H = 27.3333 (arithmetic). Here in bar with the same figures.
  it('works where its curve meets the system’s', () => {
    const plan = constantFlowBooster({
      shutOffBar: 36,
      runOutLpm: 60,
      cutOutBar: 50,
      cutInBar: 20,
      preChargeBar: 9,
      vesselLitres: 1e6,
    });
    const booster = new Booster(plan, 10, 0);
    for (let i = 0; i < 20; i++) booster.step(0.1, 0, { k: 0.02, exponent: 2 }, noOutlets());
    expect(booster.on).toBe(true);
    expect(booster.flowLpm).toBeCloseTo(29.4392, 2);
    expect(pumpHeadBar(plan, 1, booster.flowLpm)).toBeCloseTo(27.3333, 2);
    expect(booster.inletBar).toBeCloseTo(Math.max(-0.9, -0.02 * booster.flowLpm ** 2), 6);
  });

  it('pulls its inlet down along the supply’s curve', () => {
    const booster = new Booster(constantFlowBooster({ vesselLitres: 1e6 }), 1.9, 1);
    // 20 m of 25 mm PE lose 0.286 bar at 30 l/min (Darcy–Weisbach, Colebrook): 1.0 bar at the boundary leaves 0.714.
    const pipe = { k: 0.28631 / 30 ** 1.852, exponent: 1.852 };
    for (let i = 0; i < 10; i++) booster.step(0.1, 1, pipe, noOutlets());
    expect(booster.flowLpm).toBeCloseTo(30, 0);
    expect(booster.inletBar).toBeCloseTo(0.714, 2);
  });
});

describe('starts an hour', () => {
  // T = V/q + V/(Q − q): 15·Q/V at the worst draw, q = Q/2 (derivation). V = 2.4824 l, Q = 30 l/min.
  it.each([
    [2, 45.12],
    [5, 100.71],
    [10, 161.14],
    [15, 181.28],
    [20, 161.14],
    [25, 100.71],
  ])('a draw of %f l/min makes %f of them', (lpm, wanted) => {
    const booster = new Booster(constantFlowBooster(), 3.4, 1);
    const open = steadyDraw(lpm);
    const stepS = 0.02;
    const startsS: number[] = [];
    let was = false;
    for (let s = 0; s < 1800; s += stepS) {
      booster.step(stepS, 1, NO_PIPE, open);
      if (booster.on && !was) startsS.push(s);
      was = booster.on;
    }
    const anHour = (3600 * (startsS.length - 1)) / (startsS.at(-1)! - startsS[0]!);
    // The pipes' elasticity (0.7 % of the vessel's drawdown) and the switch's step make it a little slower.
    expect(anHour / wanted).toBeGreaterThan(0.97);
    expect(anHour / wanted).toBeLessThan(1.005);
  });
});

describe('wear', () => {
  const quiet = (booster: Booster, mainBar: number, seconds: number): number => {
    for (let s = 0; s < seconds; s++) booster.step(1, mainBar, NO_PIPE, noOutlets());
    return booster.bar;
  };
  const off = { cutInBar: -1, cutOutBar: 9 };

  it('a sound booster holds its pressure', () => {
    expect(quiet(new Booster(constantFlowBooster(off), 3.4, 1), 1, 3600)).toBe(3.4);
  });

  it('a leak runs down towards nothing but what the street holds', () => {
    expect(
      quiet(new Booster(constantFlowBooster({ ...off, leakCoefficient: 0.4 }), 3.4, 0.2), 0.2, 20_000),
    ).toBeCloseTo(0.2, 1);
  });

  it('a passing check valve runs down towards the inlet’s pressure', () => {
    expect(
      quiet(new Booster(constantFlowBooster({ ...off, checkValveCoefficient: 0.4 }), 3.4, 1.2), 1.2, 20_000),
    ).toBeCloseTo(1.2, 2);
  });

  it('a vessel without air collapses in seconds', () => {
    const drain = (airShare: number): number => {
      const booster = new Booster(constantFlowBooster({ ...off, airShare }), 3.4, 0);
      for (let i = 0; i < 20; i++) booster.step(0.1, 0, NO_PIPE, steadyDraw(6));
      return booster.bar;
    };
    expect(drain(1)).toBeGreaterThan(3.2);
    expect(drain(0.02)).toBeLessThan(2);
  });

  it('a dry-run guard stops the pump when its inlet is empty, and tries again later', () => {
    const booster = new Booster(constantFlowBooster({ dryRunBar: 0.1, vesselLitres: 1000 }), 1.9, 0.2);
    const pipe = { k: 0.01, exponent: 1.852 };
    const ran: boolean[] = [];
    for (let s = 0; s < 700; s++) {
      for (let i = 0; i < 10; i++) booster.step(0.1, 0.2, pipe, steadyDraw(60));
      ran.push(booster.on);
    }
    expect(ran.slice(0, 12)).toContain(true);
    expect(ran[60]).toBe(false);
    expect(ran.slice(300, 420)).toContain(true);
  });
});

import { describe, expect, it } from 'vitest';
import { LocalCalendar } from '../../simulator/local-day.ts';
import { Street, type StreetPlan } from '../../simulator/street.ts';
import { addStreetNoise, DAY_MS, SECONDS_A_DAY } from '../../simulator/street-noise.ts';

const MONDAY_MS = Date.UTC(2026, 4, 4);
const QUIET: StreetPlan = {
  seed: 4,
  timeZone: 'UTC',
  baseBar: 3,
  diurnalSwingBar: 0.3,
  dayVariation: 0,
  noise: [],
  recurring: [],
  single: [],
  lasting: [],
};
const SAG: StreetPlan['recurring'][number] = {
  days: 'weekdays',
  probability: 1,
  startHour: [6, 6],
  heldHours: [1, 1],
  edgeHours: [0.5, 0.5],
  fall: { kind: 'by', bar: [1, 1] },
};
const hourMean = (day: Float64Array, hour: number): number =>
  day.slice(hour * 3600, hour * 3600 + 3600).reduce((a, b) => a + b, 0) / 3600;

describe('the main', () => {
  // Night is usually the highest, morning and evening the lowest (supplier and regulator pages).
  it('stands highest at night and lowest in the morning', () => {
    const day = new Street(QUIET).day(MONDAY_MS);
    const means = Array.from({ length: 24 }, (_, hour) => hourMean(day, hour));
    expect(means.indexOf(Math.max(...means))).toBeGreaterThanOrEqual(1);
    expect(means.indexOf(Math.max(...means))).toBeLessThanOrEqual(4);
    expect(means.indexOf(Math.min(...means))).toBeGreaterThanOrEqual(6);
    expect(means.indexOf(Math.min(...means))).toBeLessThanOrEqual(9);
    expect(Math.max(...means) - Math.min(...means)).toBeGreaterThan(0.2);
    expect(Math.max(...means) - Math.min(...means)).toBeLessThan(0.31);
  });

  it('a weekday sag is there from Monday to Friday, at its hour and depth', () => {
    const street = new Street({ ...QUIET, diurnalSwingBar: 0, recurring: [SAG] });
    const depths = Array.from({ length: 7 }, (_, i) => 3 - street.day(MONDAY_MS + i * DAY_MS)[7 * 3600]!);
    expect(depths.map((depth) => Math.round(depth * 1000) / 1000)).toEqual([1, 1, 1, 1, 1, 0, 0]);
    const monday = street.day(MONDAY_MS);
    expect(monday[6 * 3600]).toBeCloseTo(3, 6);
    expect(monday[6 * 3600 + 900]).toBeCloseTo(2.5, 2);
    expect(monday[8 * 3600]).toBeCloseTo(3, 6);
  });

  it('street edges last: no second falls by more than the edge allows', () => {
    const day = new Street({ ...QUIET, recurring: [SAG] }).day(MONDAY_MS);
    let steepest = 0;
    for (let i = 1; i < day.length; i++) steepest = Math.max(steepest, Math.abs(day[i]! - day[i - 1]!));
    // A smooth edge is at most 1.5 times as steep as a straight one.
    expect(steepest).toBeLessThan((1.6 * 1) / 1800);
  });

  it('keeps the local hour of a sag across both clock changes', () => {
    const timeZone = 'Europe/London';
    const street = new Street({ ...QUIET, timeZone, diurnalSwingBar: 0, recurring: [{ ...SAG, days: 'all' }] });
    const calendar = new LocalCalendar(timeZone);
    for (const date of ['2026-03-28', '2026-03-29', '2026-03-30', '2026-10-24', '2026-10-25', '2026-10-26']) {
      const day = calendar.dayOf(Date.parse(`${date}T12:00:00Z`));
      const at = (hour: number): number => {
        const ms = day.at(hour);
        const dayStart = Math.floor(ms / DAY_MS) * DAY_MS;
        return street.day(dayStart)[(ms - dayStart) / 1000]!;
      };
      expect(at(7)).toBeCloseTo(2, 3);
      expect(at(5.9)).toBeCloseTo(3, 3);
      expect(at(8.1)).toBeCloseTo(3, 3);
    }
  });

  it('a lasting change lasts, a burst mends', () => {
    const atMs = MONDAY_MS + DAY_MS / 2;
    const changed = new Street({ ...QUIET, diurnalSwingBar: 0, lasting: [{ atMs, byBar: -0.8, rampMinutes: 10 }] });
    expect(changed.day(MONDAY_MS)[0]).toBeCloseTo(3, 6);
    expect(changed.day(MONDAY_MS + 6 * DAY_MS)[0]).toBeCloseTo(2.2, 6);
    const single = [
      { startMs: atMs, fallEdgeHours: 0.05, heldHours: 2, recoveryHours: 0.3, fall: { kind: 'to', bar: 0.4 } as const },
    ];
    const burst = new Street({ ...QUIET, diurnalSwingBar: 0, single }).day(MONDAY_MS);
    expect(burst[13 * 3600]).toBeCloseTo(0.4, 6);
    expect(burst[16 * 3600]).toBeCloseTo(3, 6);
  });

  it('never falls under nothing', () => {
    const deep = { ...SAG, fall: { kind: 'by', bar: [9, 9] } } as const;
    const day = new Street({ ...QUIET, recurring: [deep] }).day(MONDAY_MS);
    expect(Math.min(...day.slice(6 * 3600, 8 * 3600))).toBe(0);
  });
});

describe('the main’s restlessness', () => {
  // An Ornstein–Uhlenbeck process: variance σ², correlation exp(−t/τ) at lag t (Uhlenbeck & Ornstein, Phys. Rev. 36, 1930).
  it('has its spread and its correlation times', () => {
    const noise = new Float64Array(SECONDS_A_DAY);
    addStreetNoise(noise, MONDAY_MS, 11, [{ correlationS: 60, sdBar: 0.02 }]);
    const mean = noise.reduce((a, b) => a + b, 0) / noise.length;
    const covariance = (lag: number): number => {
      let sum = 0;
      for (let i = lag; i < noise.length; i++) sum += (noise[i]! - mean) * (noise[i - lag]! - mean);
      return sum / (noise.length - lag);
    };
    // 86,400 s hold some 700 independent stretches of 2τ: five standard errors are about a fifth.
    expect(Math.sqrt(covariance(0)) / 0.02).toBeGreaterThan(0.85);
    expect(Math.sqrt(covariance(0)) / 0.02).toBeLessThan(1.15);
    expect(Math.abs(covariance(60) / covariance(0) - Math.exp(-1))).toBeLessThan(0.15);
    expect(Math.abs(covariance(600) / covariance(0))).toBeLessThan(0.2);
  });

  it('joins at midnight without a step', () => {
    const parts = [{ correlationS: 3600, sdBar: 0.05 }];
    const usual = 0.05 * Math.sqrt(2 * (1 - Math.exp(-1 / 3600)));
    for (let day = 0; day < 12; day++) {
      const before = new Float64Array(SECONDS_A_DAY);
      const after = new Float64Array(SECONDS_A_DAY);
      addStreetNoise(before, MONDAY_MS + day * DAY_MS, 3, parts);
      addStreetNoise(after, MONDAY_MS + (day + 1) * DAY_MS, 3, parts);
      expect(Math.abs(after[0]! - before.at(-1)!)).toBeLessThan(5 * usual);
    }
  });

  it('a day is the same whatever was asked before', () => {
    const plan = { ...QUIET, noise: [{ correlationS: 30, sdBar: 0.01 }], recurring: [{ ...SAG, probability: 0.5 }] };
    const alone = new Street(plan).day(MONDAY_MS + 5 * DAY_MS);
    const walked = new Street(plan);
    for (let i = 0; i < 5; i++) walked.day(MONDAY_MS + i * DAY_MS);
    expect(walked.day(MONDAY_MS + 5 * DAY_MS)).toEqual(alone);
  });
});

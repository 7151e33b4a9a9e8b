import { describe, expect, it } from 'vitest';
import { House, type HousePlan } from '../../simulator/house.ts';
import { drawScenario } from '../../simulator/scenarios.ts';

const DAY_S = 86_400;
const planOf = (name: string, seed: number): { plan: HousePlan; startMs: number } => {
  const scenario = drawScenario(name, { days: 3, seed });
  return { plan: scenario.house, startMs: scenario.startMs };
};

describe('a house on its street', () => {
  it('with nobody drawing reads the standing pressure, except while a pipe still rings', () => {
    const { plan, startMs } = planOf('good-supply', 3);
    const day = new House({ ...plan, ringBarPerLpmS: 0 }, startMs).next(DAY_S);
    let idle = 0;
    for (let i = 1; i < DAY_S; i++) {
      if (day.ownLpm[i] !== 0) continue;
      idle++;
      expect(day.pressureBar[i]).toBe(day.standingBar[i]);
    }
    expect(idle).toBeGreaterThan(DAY_S / 2);
  });

  it('its own draws never raise the reading, and fall by the law of its pipe', () => {
    const { plan, startMs } = planOf('busy-family', 2);
    const day = new House({ ...plan, ringBarPerLpmS: 0 }, startMs).next(DAY_S);
    const { k, exponent } = plan.pipes.own;
    let steady = 0;
    for (let i = 2; i < DAY_S - 1; i++) {
      expect(day.pressureBar[i]!).toBeLessThanOrEqual(day.standingBar[i]! + 1e-6);
      const flow = day.ownLpm[i]!;
      if (flow < 4 || Math.abs(flow - day.ownLpm[i - 1]!) > 0.01 || Math.abs(flow - day.ownLpm[i + 1]!) > 0.01)
        continue;
      steady++;
      expect(Math.abs(day.standingBar[i]! - day.pressureBar[i]! - k * flow ** exponent)).toBeLessThan(0.005);
    }
    expect(steady).toBeGreaterThan(300);
  });

  it('draws come and go within seconds, the street doesn’t', () => {
    const { plan, startMs } = planOf('weekday-morning-sag', 4);
    const days = new House(plan, startMs).next(3 * DAY_S);
    let streetFastest = 0;
    let drawFastest = 0;
    for (let i = 3; i < days.pressureBar.length; i++) {
      streetFastest = Math.max(streetFastest, days.standingBar[i - 3]! - days.standingBar[i]!);
      drawFastest = Math.max(drawFastest, days.pressureBar[i - 3]! - days.pressureBar[i]!);
    }
    expect(drawFastest).toBeGreaterThan(0.1);
    expect(drawFastest).toBeGreaterThan(2 * streetFastest);
  });

  it('in one go or hour by hour it is the same house', () => {
    for (const name of ['hose-in-a-sag', 'booster-leak']) {
      const { plan, startMs } = planOf(name, 5);
      const whole = new House(plan, startMs).next(6 * 3600);
      const pieces = new House(plan, startMs);
      for (let hour = 0; hour < 6; hour++) {
        const piece = pieces.next(3600);
        expect(piece.pressureBar).toEqual(whole.pressureBar.slice(hour * 3600, hour * 3600 + 3600));
      }
    }
  });

  it('entered later it is the same house, once the draws under way at the entry are over', () => {
    const { plan, startMs } = planOf('some-days-sag', 6);
    const whole = new House(plan, startMs).next(2 * DAY_S);
    const later = new House(plan, startMs + DAY_S * 1000).next(DAY_S);
    expect(later.pressureBar.slice(4 * 3600)).toEqual(whole.pressureBar.slice(DAY_S + 4 * 3600));
  });

  it('each pump run has its start, its stop and the pump on between them', () => {
    const { plan, startMs } = planOf('booster-normal', 2);
    const day = new House(plan, startMs).next(DAY_S);
    expect(day.pumpRuns.length).toBeGreaterThan(3);
    for (const run of day.pumpRuns) {
      if (run.stopMs === undefined) continue;
      expect(run.stopMs).toBeGreaterThan(run.startMs);
      const from = Math.ceil((run.startMs - startMs) / 1000);
      const to = Math.floor((run.stopMs - startMs - 1) / 1000);
      for (let i = from; i <= to; i++) expect(day.pumpOn![i]).toBe(1);
    }
  });
});

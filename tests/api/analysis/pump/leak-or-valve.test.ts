import { describe, expect, it } from 'vitest';
import { leakOrValve } from '../../../../api/analysis/pump/leak-or-valve.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { random } from './seeded-random.ts';

/*
 * Decays by closed laws, apart from the rigs: a gas cushion by Boyle (litres per bar as 1/P²) that empties by Torricelli
 * through an opening to a pressure `endBar`, from cut-out 3.5 to cut-in 2.2 bar, over a day of a main that sinks twice.
 */
const [CUT_IN_BAR, CUT_OUT_BAR, FILL_S] = [2.2, 3.5, 20];

function plant(endsAtMain: boolean, plan: { swingBar: number; noiseBar: number; hours: number; power: number }) {
  const next = random(3);
  const mainBar = (s: number): number =>
    1.5 - plan.swingBar * (Math.exp(-(((s / 3600 - 7.5) / 1.5) ** 2)) + Math.exp(-(((s / 3600 - 19) / 2) ** 2)));
  const seconds = 3600 * plan.hours;
  const timeMs = Float64Array.from({ length: seconds }, (_, s) => 1000 * s);
  const rests: { fromRow: number; toRow: number; stopRow: number }[] = [];
  let bar = CUT_OUT_BAR;
  let on = false;
  let stopped = 0;
  let started = 0;
  const read = timeMs.map((_, s) => {
    const drive = Math.max(0, bar - (endsAtMain ? mainBar(s) : 0));
    if (on) bar += (CUT_OUT_BAR - CUT_IN_BAR) / FILL_S;
    else bar -= 2.2e-4 * drive ** plan.power * (bar + 1.01325) ** 2 * (endsAtMain ? 1.4 : 1);
    if (!on && bar <= CUT_IN_BAR) {
      on = true;
      started = s;
    } else if (on && bar >= CUT_OUT_BAR) {
      on = false;
      rests.push({ fromRow: stopped, toRow: started, stopRow: s });
      stopped = s;
    }
    return bar + plan.noiseBar * 2 * (next() + next() + next() - 1.5);
  });
  const rows = pumpRows(timeMs, read, 1, plan.noiseBar, 0);
  const inlet = (row: number): number => mainBar(row) + 0.01 * (next() - 0.5);
  return { rows, rests: rests.slice(1), inlet };
}

const MOVING = { swingBar: 0.4, noiseBar: 0.01, hours: 24, power: 0.5 };

describe('leak or check valve', () => {
  it.each([0.5, 0.7, 1])('are told for certain where the main is logged and moves, at a flow power of %f', (power) => {
    for (const endsAtMain of [true, false]) {
      const { rows, rests, inlet } = plant(endsAtMain, { ...MOVING, power });
      expect(rests.length).toBeGreaterThan(50);
      expect(leakOrValve(rows, rests, inlet).causes).toEqual([endsAtMain ? 'check_valve' : 'leak']);
    }
  });

  it.each([0.5, 0.7, 1])('come in the right order by the pressure behind the pump alone, at a power of %f', (power) => {
    for (const endsAtMain of [true, false]) {
      const { rows, rests } = plant(endsAtMain, { ...MOVING, power });
      expect(leakOrValve(rows, rests, undefined).causes[0]).toBe(endsAtMain ? 'check_valve' : 'leak');
    }
  });

  it('are both named where a calm main and a near-linear leak leave it open', () => {
    const { rows, rests } = plant(false, { swingBar: 0, noiseBar: 0.03, hours: 3, power: 1 });
    expect([...leakOrValve(rows, rests, undefined).causes].sort()).toEqual(['check_valve', 'leak']);
  });

  it('says that nothing can be said of too few rests, and still names both', () => {
    const { rows, rests } = plant(false, MOVING);
    const found = leakOrValve(rows, rests.slice(0, 1), undefined);
    expect(found.causes).toHaveLength(2);
  });
});

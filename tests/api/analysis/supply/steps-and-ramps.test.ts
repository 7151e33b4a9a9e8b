import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import type { AnalysisColumns } from '../../../../api/analysis/findings.ts';
import { MONDAY_MS, PLAIN_SITE, type PlainDraw, plainHouse } from '../plain-house.ts';

const HOUR_S = 3600;

/** The same readings from a sensor whose zero steps at a second of the log. */
function zeroStepsAt(columns: AnalysisColumns, atS: number, stepBar: number): AnalysisColumns {
  const pressureBar = columns.pressureBar.map((bar, i) =>
    (columns.timeMs[i]! - MONDAY_MS) / 1000 >= atS ? bar + stepBar : bar,
  );
  return { ...columns, pressureBar };
}

describe('steps that are no tap’s', () => {
  const shower: PlainDraw = { fromS: 30 * HOUR_S, toS: 30.2 * HOUR_S, opening: 9 };
  const days = Array.from({ length: 40 }, (_, k) => ({
    fromS: 0.7 * HOUR_S + k * 1.2 * HOUR_S,
    toS: 0.7 * HOUR_S + k * 1.2 * HOUR_S + 90,
    opening: 5 + (k % 5),
  })).filter(({ fromS, toS }) => toS < shower.fromS || fromS > shower.toS);

  it.each([
    ['idle', 20 * HOUR_S],
    ['in the middle of a draw', 30.1 * HOUR_S],
  ])('the sensor’s zero that steps %s is the sensor’s, and the draw keeps its fall', (_, atS) => {
    const house = plainHouse({ hours: 48, street: () => 3.1, draws: [...days, shower], lossFactor: 0.004 });
    const found = analyse(zeroStepsAt(house, atS, -0.4), PLAIN_SITE);
    expect(found.faults.map(({ kind, start }) => [kind, (Date.parse(start!) - MONDAY_MS) / 1000])).toEqual([
      ['offset_step', expect.closeTo(atS, -1)],
    ]);
    expect(found.draws).toHaveLength(days.length + 1);
    const known = found.standing!.bar.filter((bar) => bar !== null);
    expect(Math.min(...known)).toBeGreaterThan(3.05);
    expect(Math.max(...known)).toBeLessThan(3.15);
  });

  it('taps too small to be reported don’t make one long draw of the hours after a step of the zero', () => {
    const drips = Array.from({ length: 16 }, (_, k) => ({
      fromS: 20.2 * HOUR_S + k * 1000,
      toS: 20.2 * HOUR_S + k * 1000 + 60,
      opening: 1.7,
    }));
    const house = plainHouse({ hours: 48, street: () => 3.1, draws: drips, lossFactor: 0.003, noiseBar: 0.001 });
    const found = analyse(zeroStepsAt(house, 20 * HOUR_S, -0.2), PLAIN_SITE);
    expect(found.draws.filter((draw) => Date.parse(draw.end) - Date.parse(draw.start) > 600_000)).toEqual([]);
    expect(found.faults.map(({ kind }) => kind)).toEqual(['offset_step']);
  });

  it('a street that falls and comes back within 45 s many times a day opens no tap', () => {
    const dips = Array.from({ length: 14 }, (_, k) => (8 + k) * HOUR_S + 300 * (k % 5));
    const street = (atS: number) => {
      const into = dips.map((from) => Math.min((atS - from) / 45, (from + 140 - atS) / 45, 1)).filter((x) => x > 0);
      return 1.3 - 0.9 * (into[0] ?? 0);
    };
    const found = analyse(plainHouse({ hours: 24, street, noiseBar: 0.0075, stepBar: 0.003 }), PLAIN_SITE);
    expect(found.draws).toEqual([]);
    expect(found.lowSupply).toHaveLength(dips.length);
  });
});

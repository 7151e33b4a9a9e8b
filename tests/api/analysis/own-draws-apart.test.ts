import { describe, expect, it } from 'vitest';
import { analyse } from '../../../api/analysis/analyse.ts';
import type { FindingsDocument } from '../../../api/analysis/findings.ts';
import { dip, MONDAY_MS, PLAIN_SITE, type PlainDraw, plainHouse } from './plain-house.ts';

const HOUR_S = 3600;
const seconds = (iso: string) => (Date.parse(iso) - MONDAY_MS) / 1000;

/** Root mean square error of the known standing points against the house's own truth. */
function standingError(
  found: FindingsDocument,
  truth: Float64Array,
  fromS = 0,
  toS = Number.POSITIVE_INFINITY,
): number {
  let squares = 0;
  let n = 0;
  found.standing!.bar.forEach((bar, j) => {
    const atS = seconds(found.standing!.start) + j * found.standing!.stepS;
    if (bar === null || atS < fromS || atS >= Math.min(toS, truth.length)) return;
    squares += (bar - truth[atS]!) ** 2;
    n++;
  });
  return Math.sqrt(squares / n);
}

const showers: PlainDraw[] = [6.2, 6.6, 7.1, 7.4, 8, 12, 18, 19, 19.5, 22].map((hour) => ({
  fromS: hour * HOUR_S,
  toS: hour * HOUR_S + 420,
  opening: 9,
}));

describe('own draws apart from the street', () => {
  it('a busy family at a fair supply is no sag and no low supply, though the reading falls below the threshold', () => {
    const columns = plainHouse({ hours: 24, street: () => 1.0, draws: showers, lossFactor: 0.012 });
    expect(Math.min(...columns.pressureBar)).toBeLessThan(0.6);
    const found = analyse(columns, PLAIN_SITE);
    expect(found.lowSupply).toEqual([]);
    expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
    expect(found.draws).toHaveLength(showers.length);
    expect(standingError(found, columns.trueStanding)).toBeLessThan(0.02);
  });

  it('a hose of an hour is one draw, and standing pressure is carried through it while the street moves', () => {
    const street = (atS: number) => 2.2 + dip(atS, 10 * HOUR_S, 14 * HOUR_S, 3000, 0.7);
    const hose = { fromS: 10.2 * HOUR_S, toS: 11.4 * HOUR_S, opening: 10 };
    const columns = plainHouse({ hours: 24, street, draws: [hose, ...showers] });
    const found = analyse(columns, PLAIN_SITE);
    const long = found.draws.filter((draw) => Date.parse(draw.end) - Date.parse(draw.start) > 1_800_000);
    expect(long).toHaveLength(1);
    expect(seconds(long[0]!.start)).toBeCloseTo(hose.fromS, -1);
    expect(seconds(long[0]!.end)).toBeCloseTo(hose.toS, -1);
    expect(standingError(found, columns.trueStanding, hose.fromS, hose.toS)).toBeLessThan(0.06);
  });

  it('a low period that starts and ends under draws is found as one period with the street’s own level', () => {
    const street = (atS: number) => 1.3 + dip(atS, 7 * HOUR_S, 9 * HOUR_S, 1200, 0.9);
    const draws = [
      { fromS: 7.05 * HOUR_S, toS: 7.3 * HOUR_S, opening: 8 },
      { fromS: 8.6 * HOUR_S, toS: 8.9 * HOUR_S, opening: 8 },
    ];
    const found = analyse(plainHouse({ hours: 24, street, draws }), PLAIN_SITE);
    expect(found.lowSupply).toHaveLength(1);
    const [low] = found.lowSupply;
    expect(low!.minBar).toBeCloseTo(0.4, 1);
    expect(low!.certainty).toBe('certain');
    expect(seconds(low!.start)).toBeGreaterThan(7.05 * HOUR_S);
    expect(seconds(low!.end)).toBeLessThan(8.95 * HOUR_S);
    expect(low!.qualifying).toBe(true);
  });

  it('with a flow meter a fall without own flow belongs to the street, and the loss is fitted', () => {
    const neighbour = { fromS: 15 * HOUR_S, toS: 15.2 * HOUR_S, opening: 9 };
    const own = plainHouse({ hours: 24, street: () => 2, draws: showers, metered: true });
    const fall = plainHouse({ hours: 24, street: () => 2, draws: [neighbour], noiseBar: 0 });
    const pressureBar = own.pressureBar.map((p, i) => p - (2 - fall.pressureBar[i]!));
    const found = analyse({ ...own, pressureBar }, { ...PLAIN_SITE, hasFlowMeter: true });
    expect(found.draws).toHaveLength(showers.length);
    expect(found.draws.every((draw) => (draw.meanLpm ?? 0) > 5)).toBe(true);
    const during = found.standing!.bar[Math.round((15.1 * HOUR_S) / 60)];
    expect(during).toBeLessThan(1.85);
  });
});

describe('sags', () => {
  it('are found per local day with depth and half-depth crossings', () => {
    const street = (atS: number) => 2.5 + dip(atS, 6.5 * HOUR_S, 9 * HOUR_S, 2400, 0.6);
    const found = analyse(plainHouse({ hours: 24, street, draws: showers }), PLAIN_SITE);
    const morning = found.sags.find((sag) => sag.window === 'morning')!;
    expect(morning.state).toBe('present');
    expect(morning.depthBar).toBeCloseTo(0.6, 1);
    expect(seconds(morning.start!)).toBeCloseTo(6.5 * HOUR_S + 1200, -3);
    expect(found.sags.find((sag) => sag.window === 'evening')!.state).toBe('absent');
  });

  it('are not read into pressure management that lowers the nights', () => {
    const street = (atS: number) => 2.6 - (atS < 5.4 * HOUR_S || atS > 23 * HOUR_S ? 0.9 : 0);
    const found = analyse(plainHouse({ hours: 24, street, draws: showers }), PLAIN_SITE);
    expect(found.sags.map((sag) => sag.state)).toEqual(['absent', 'absent']);
  });

  it('cannot be told where the night or the window was not logged', () => {
    const columns = plainHouse({ hours: 24, street: () => 2 });
    const kept = columns.timeMs.map((_, i) => i).filter((i) => i < 4 * HOUR_S || i > 8.5 * HOUR_S);
    const take = (column: Float64Array) => Float64Array.from(kept, (i) => column[i]!);
    const found = analyse({ timeMs: take(columns.timeMs), pressureBar: take(columns.pressureBar) }, PLAIN_SITE);
    expect(found.sags[0]).toMatchObject({ window: 'morning', state: 'unknown' });
    expect(found.faults.filter((fault) => fault.kind === 'gap')).toHaveLength(1);
  });
});

describe('what a log cannot show', () => {
  it('an empty log gives an empty document', () => {
    const found = analyse({ timeMs: new Float64Array(0), pressureBar: new Float64Array(0) }, PLAIN_SITE);
    expect(found.series.samples).toBe(0);
    expect(found.draws).toEqual([]);
  });

  it('behind a pump there is no standing pressure, sag, draw or low supply', () => {
    const columns = plainHouse({ hours: 6, street: () => 0.5 });
    const site = { ...PLAIN_SITE, sensor: { ...PLAIN_SITE.sensor, position: 'pump_outlet' as const } };
    const found = analyse(columns, site);
    expect(found.standing).toBeUndefined();
    expect([found.draws, found.sags, found.lowSupply]).toEqual([[], [], []]);
  });

  it('once a minute it says so, and blames no draw on the supply', () => {
    const columns = plainHouse({ hours: 24, intervalS: 60, street: () => 1, draws: showers, lossFactor: 0.012 });
    const found = analyse(columns, { ...PLAIN_SITE, intervalS: 60 });
    expect(found.limits.join(' ')).toContain('one or two samples');
    expect(found.lowSupply).toEqual([]);
  });
});

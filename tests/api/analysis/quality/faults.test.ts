import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import { leastStuckRows } from '../../../../api/analysis/quality/stuck.ts';
import { dip, MONDAY_MS, PLAIN_SITE, plainHouse } from '../plain-house.ts';
import { random } from '../pump/seeded-random.ts';

const HOUR_S = 3600;
const shower = { fromS: 3 * HOUR_S, toS: 3 * HOUR_S + 300, opening: 8 };
const kindsOf = (found: ReturnType<typeof analyse>) => found.faults.map((fault) => fault.kind);

describe('faults of a cheap sensor', () => {
  it('a quiet main on a coarse converter is not stuck', () => {
    const columns = plainHouse({ hours: 12, street: () => 2.0031, noiseBar: 0.0008, stepBar: 0.0122, draws: [shower] });
    expect(kindsOf(analyse(columns, PLAIN_SITE))).toEqual([]);
  });

  it('a frozen reading is, and is not used', () => {
    const columns = plainHouse({ hours: 12, street: () => 2, draws: [shower] });
    columns.pressureBar.fill(0.31, 5 * HOUR_S, 6 * HOUR_S);
    const found = analyse(columns, PLAIN_SITE);
    expect(kindsOf(found)).toEqual(['stuck']);
    expect(found.lowSupply).toEqual([]);
    expect(found.standing!.bar[330]).toBeNull();
  });

  it('a reading a minute is stuck after twenty of them where no other repeats for long', () => {
    const next = random(3);
    const timeMs = Float64Array.from({ length: 5000 }, (_, row) => row * 60_000);
    const bar = timeMs.map(() => 3 + 0.004 * Math.floor(20 * next()));
    expect(leastStuckRows(timeMs, bar, 60_000)).toBe(Number.POSITIVE_INFINITY);
    bar.fill(3.02, 1000, 1058);
    bar.fill(3.04, 3000, 3047);
    expect(leastStuckRows(timeMs, bar, 60_000)).toBeLessThanOrEqual(47);
    expect(leastStuckRows(timeMs, bar, 60_000)).toBeGreaterThanOrEqual(20);
  });

  it('single spikes and a broken wire are marked and not used', () => {
    const columns = plainHouse({ hours: 12, street: () => 2, draws: [shower] });
    columns.pressureBar[20_000] = 4.4;
    columns.pressureBar[25_000] = 0.1;
    columns.pressureBar.fill(-1.25, 30_000, 30_300);
    const found = analyse(columns, PLAIN_SITE);
    expect(kindsOf(found)).toEqual(['spike', 'spike', 'out_of_range']);
    expect(found.lowSupply).toEqual([]);
    expect(found.coverage.validFraction).toBeCloseTo(1 - 302 / 43_200, 6);
  });

  it('the hammer of a tap that is shut is no spike, also where it had hardly lowered the pressure', () => {
    const tap = { fromS: 9 * HOUR_S, toS: 9 * HOUR_S + 60, opening: 3 };
    const columns = plainHouse({ hours: 12, street: () => 2.55, draws: [tap], noiseBar: 0.004 });
    const level = columns.pressureBar[tap.toS - 3]!;
    columns.pressureBar[tap.toS] = level + 0.21;
    columns.pressureBar[tap.toS + 1] = level + 0.008;
    columns.pressureBar[tap.toS + 2] = level + 0.012;
    expect(kindsOf(analyse(columns, PLAIN_SITE))).toEqual([]);
  });

  it('a dry main at nought is no broken wire', () => {
    const street = (atS: number) => Math.max(0, 1.5 + dip(atS, 4 * HOUR_S, 8 * HOUR_S, 600, 1.6));
    const found = analyse(plainHouse({ hours: 12, street }), PLAIN_SITE);
    expect(kindsOf(found)).toEqual([]);
    expect(found.lowSupply).toHaveLength(1);
  });

  it('a step of the zero is told from a change of supply by its speed', () => {
    const stepped = plainHouse({ hours: 24 * 8, street: () => 2, draws: [shower] });
    for (let i = 4 * 24 * HOUR_S; i < stepped.pressureBar.length; i++) stepped.pressureBar[i]! += 0.3;
    const bySensor = analyse(stepped, PLAIN_SITE);
    expect(kindsOf(bySensor)).toEqual(['offset_step']);
    expect(bySensor.changes.map((change) => change.kind)).toEqual(['sensor']);
    const at = 4 * 24 * HOUR_S;
    const street = (atS: number) => 2 + 0.3 * Math.min(1, Math.max(0, (atS - at) / 600));
    const bySupply = analyse(plainHouse({ hours: 24 * 8, street, draws: [shower] }), PLAIN_SITE);
    expect(bySupply.changes.map((change) => change.kind)).toEqual(['supply']);
    expect(bySupply.changes[0]!.toBar - bySupply.changes[0]!.fromBar).toBeCloseTo(0.3, 2);
    expect(Math.abs(Date.parse(bySupply.changes[0]!.at) - (MONDAY_MS + at * 1000))).toBeLessThan(3_600_000);
  });
});

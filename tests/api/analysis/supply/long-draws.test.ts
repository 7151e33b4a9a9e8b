import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import { carryThrough } from '../../../../api/analysis/supply/carry-through.ts';
import { CellSums, closeCells } from '../../../../api/analysis/supply/standing-cells.ts';
import { dip, PLAIN_SITE, type PlainDraw, plainHouse } from '../plain-house.ts';

const HOUR_S = 3600;

describe('long draws', () => {
  it('a pool that fills for three hours while the household goes on is one draw and no sag', () => {
    const pool: PlainDraw = { fromS: 17 * HOUR_S, toS: 20.2 * HOUR_S, opening: 9 };
    const inside = Array.from({ length: 18 }, (_, k) => ({
      fromS: 17.1 * HOUR_S + k * 600,
      toS: 17.1 * HOUR_S + k * 600 + 40 + 11 * k,
      opening: 6 + (k % 4),
    }));
    const columns = plainHouse({ hours: 24, street: () => 2.3, draws: [pool, ...inside], lossFactor: 0.006 });
    const found = analyse(columns, PLAIN_SITE);
    expect(found.draws.map(({ start, end }) => (Date.parse(end) - Date.parse(start)) / 1000)).toEqual([
      expect.closeTo(3.2 * HOUR_S, -1),
    ]);
    expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
    const known = found.standing!.bar.filter((bar) => bar !== null);
    expect(Math.min(...known)).toBeGreaterThan(2.2);
    expect(Math.max(...known)).toBeLessThan(2.4);
  });

  it('a hose that a busy household opens and shuts under other taps is one draw and no sag', () => {
    const hose: PlainDraw = { fromS: 17.5 * HOUR_S, toS: 18.7 * HOUR_S, opening: 10 };
    const inside = Array.from({ length: 14 }, (_, k) => ({
      fromS: 17.55 * HOUR_S + k * (3800 / 14),
      toS: 17.55 * HOUR_S + k * (3800 / 14) + 45 + 9 * (k % 5),
      opening: 5 + (k % 6),
    }));
    // A cistern that fills more and more slowly while the hose is shut.
    const cistern = Array.from({ length: 28 }, (_, k) => ({
      fromS: hose.toS - 55,
      toS: hose.toS - 28 + 1.5 * k,
      opening: 0.15,
    }));
    const draws = [hose, ...inside, ...cistern];
    const found = analyse(plainHouse({ hours: 24, street: () => 2.5, draws, lossFactor: 0.003 }), PLAIN_SITE);
    expect(found.draws).toHaveLength(1);
    expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
    const known = found.standing!.bar.filter((bar) => bar !== null);
    expect(Math.min(...known)).toBeGreaterThan(2.1);
    expect(Math.max(...known)).toBeLessThan(2.6);
  });

  it('a pool whose last tap inside shuts unseen, as slowly as a hand can, keeps its own closing edge', () => {
    const pool: PlainDraw = { fromS: 9.6 * HOUR_S, toS: 11.4 * HOUR_S, opening: 9 };
    const inside = Array.from({ length: 8 }, (_, k) => ({
      fromS: 9.7 * HOUR_S + k * 600,
      toS: 9.7 * HOUR_S + k * 600 + 70,
      opening: 5 + (k % 3),
    }));
    const slowly = Array.from({ length: 60 }, (_, k) => ({
      fromS: 11.2 * HOUR_S,
      toS: 11.2 * HOUR_S + 40 + 4 * k,
      opening: 0.1,
    }));
    const draws = [pool, ...inside, ...slowly];
    const found = analyse(plainHouse({ hours: 24, street: () => 1.5, draws, lossFactor: 0.006 }), PLAIN_SITE);
    expect(found.draws).toHaveLength(1);
    expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
    const known = found.standing!.bar.filter((bar) => bar !== null);
    expect(Math.min(...known)).toBeGreaterThan(1.4);
  });

  it('a pool at the ground that a low supply almost stops runs on when the street is back', () => {
    const street = (atS: number) => 0.43 + 1.25 * Math.min(1, Math.max(0, (atS - 10.2 * HOUR_S) / 300));
    const pool: PlainDraw = { fromS: 9.4 * HOUR_S, toS: 11 * HOUR_S, opening: 13 };
    const inside = Array.from({ length: 8 }, (_, k) => ({
      fromS: 9.45 * HOUR_S + k * 680,
      toS: 9.45 * HOUR_S + k * 680 + 80,
      opening: 6 + (k % 3),
    }));
    const house = { hours: 24, street, draws: [pool, ...inside], lossFactor: 0.004, heightBar: 0 };
    const found = analyse(plainHouse(house), PLAIN_SITE);
    const minute = (hour: number) => found.standing!.bar[Math.round(hour * 60)];
    expect(minute(9.9)).toBeGreaterThan(0.36);
    expect(minute(9.9)).toBeLessThan(0.5);
    expect(minute(10.7)).toBeGreaterThan(1.55);
    expect(minute(10.7)).toBeLessThan(1.8);
    const low = found.lowSupply.at(-1)!;
    expect((Date.parse(low.end) - Date.parse(found.series.start!)) / HOUR_S / 1000).toBeCloseTo(10.22, 1);
  });

  it('a burst that takes most of the pressure within two minutes is the street’s at a reading every minute', () => {
    // Drawn from by a tap, the fall would have been more than the street has when it is back.
    const street = (atS: number) =>
      2.4 - 2.08 * Math.min(1, Math.max(0, (atS - 17.4 * HOUR_S) / 110), Math.max(0, (18.8 * HOUR_S - atS) / 350));
    const tap: PlainDraw = { fromS: 22.25 * HOUR_S, toS: 22.27 * HOUR_S, opening: 5 };
    const house = { hours: 24, intervalS: 60, street, draws: [tap], lossFactor: 0.004 };
    const found = analyse(plainHouse(house), { ...PLAIN_SITE, intervalS: 60 });
    expect(found.lowSupply.map(({ certainty }) => certainty)).toEqual(['certain']);
    expect(found.draws).toEqual([]);
  });

  it('a burst that falls over three minutes and is mended within two is the street’s at a reading every minute', () => {
    const street = (atS: number) =>
      2.34 - 2.14 * Math.min(1, Math.max(0, (atS - 11.94 * HOUR_S) / 170), Math.max(0, (15.3 * HOUR_S - atS) / 100));
    const taps = Array.from({ length: 6 }, (_, k) => ({
      fromS: (6.5 + 2.6 * k) * HOUR_S,
      toS: (6.6 + 2.6 * k) * HOUR_S,
      opening: 5,
    }));
    const house = {
      hours: 24,
      intervalS: 60,
      street,
      draws: taps.filter(({ fromS }) => fromS < 11 * HOUR_S),
      lossFactor: 0.004,
    };
    const found = analyse(plainHouse(house), { ...PLAIN_SITE, intervalS: 60 });
    expect(found.lowSupply.map(({ certainty }) => certainty)).toEqual(['certain']);
    const [low] = found.lowSupply;
    expect((Date.parse(low!.end) - Date.parse(low!.start)) / 3_600_000).toBeCloseTo(3.33, 0.5);
  });

  it('a burst with a tap open in its fall is the street’s at a reading every 10 s', () => {
    const street = (atS: number) =>
      2.52 - 2.13 * Math.min(1, Math.max(0, (atS - 9.944 * HOUR_S) / 190), Math.max(0, (10.2 * HOUR_S - atS) / 250));
    const mornings = Array.from({ length: 9 }, (_, k) => ({
      fromS: (5 + 0.5 * k) * HOUR_S,
      toS: (5 + 0.5 * k) * HOUR_S + 80,
      opening: 5 + (k % 3),
    }));
    const inFall: PlainDraw = { fromS: 9.944 * HOUR_S + 53, toS: 9.944 * HOUR_S + 115, opening: 7 };
    const house = { hours: 24, intervalS: 10, street, draws: [...mornings, inFall], lossFactor: 0.004 };
    const found = analyse(plainHouse({ ...house, noiseBar: 0.003 }), { ...PLAIN_SITE, intervalS: 10 });
    expect(found.lowSupply.map(({ certainty }) => certainty)).toEqual(['certain']);
    expect(found.draws.filter(({ start, end }) => Date.parse(end) - Date.parse(start) > 300_000)).toEqual([]);
  });

  it('a pool that a burst nearly stops gives back little when it is shut, and is one draw all the same', () => {
    const street = (atS: number) => 1.95 - 1.5 * Math.min(1, Math.max(0, (atS - 9.1 * HOUR_S) / 900));
    const pool: PlainDraw = { fromS: 8.6 * HOUR_S, toS: 10.5 * HOUR_S, opening: 9 };
    const others = Array.from({ length: 44 }, (_, k) => ({
      fromS: 8.7 * HOUR_S + k * 140,
      toS: 8.7 * HOUR_S + k * 140 + 60,
      opening: 6,
    }));
    const nights = [5, 6, 7].map((hour) => ({ fromS: hour * HOUR_S, toS: hour * HOUR_S + 90, opening: 6 }));
    const house = { hours: 24, intervalS: 10, street, draws: [...nights, pool, ...others], lossFactor: 0.004 };
    const found = analyse(plainHouse(house), { ...PLAIN_SITE, intervalS: 10 });
    const lengths = found.draws.map(({ start, end }) => (Date.parse(end) - Date.parse(start)) / 1000);
    expect(Math.max(...lengths)).toBeCloseTo(1.9 * HOUR_S, -2);
    const known = found.standing!.bar.slice(0, 9 * 60).filter((bar) => bar !== null);
    expect(Math.min(...known)).toBeGreaterThan(1.85);
  });

  it('a street that falls for three hours in ten minutes stays a sag, whatever is drawn in it', () => {
    const street = (atS: number) => 2.3 + dip(atS, 17 * HOUR_S, 20.2 * HOUR_S, 600, 0.6);
    const draws = Array.from({ length: 18 }, (_, k) => ({
      fromS: 17.3 * HOUR_S + k * 550,
      toS: 17.3 * HOUR_S + k * 550 + 90,
      opening: 7,
    }));
    const found = analyse(plainHouse({ hours: 24, street, draws, lossFactor: 0.006 }), PLAIN_SITE);
    expect(found.sags.filter((sag) => sag.state === 'present').map((sag) => sag.window)).toEqual(['evening']);
    expect(found.draws).toHaveLength(draws.length);
  });

  it('a tap that a reading every 10 s catches half open has its whole fall', () => {
    const fromS = 10 * HOUR_S;
    const draws: PlainDraw[] = [
      { fromS, toS: fromS + 900, opening: 5 },
      { fromS: fromS + 10, toS: fromS + 890, opening: 7 },
    ];
    const house = { hours: 24, intervalS: 10, street: () => 3.4, draws, lossFactor: 0.004 };
    const found = analyse(plainHouse(house), { ...PLAIN_SITE, intervalS: 10 });
    const known = found.standing!.bar.filter((bar) => bar !== null);
    expect(Math.min(...known)).toBeGreaterThan(3.32);
    expect(Math.max(...known)).toBeLessThan(3.45);
  });

  it('where a draw tapers off, the level it arrives at corrects what a slow change left in the books', () => {
    const bar = (s: number) => (s < 20 ? 2 : s < 60 ? 1.5 : s < 160 ? 1.5 + (s - 60) * 0.002 : s < 200 ? 1.95 : 2);
    const pressureBar = Float64Array.from({ length: 300 }, (_, s) => bar(s));
    const timeMs = Float64Array.from({ length: 300 }, (_, s) => s * 1000);
    const cells = new CellSums(0, 0, 300_000, 10_000);
    carryThrough(
      {
        fromRow: 20,
        toRow: 200,
        idleFromRow: 200,
        residualBar: 0,
        drift: 0,
        segment: { open: 0, close: 1, kind: 'soft', taperEdge: 1, softEndRow: 200, zeroStepEdge: -1, surgeEdges: 0 },
        // The fall eased by 0.2 bar between the edges, which no edge shows.
        stretches: [
          { fromRow: 20, toRow: 160, fallBar: 0.5, atBar: 1.5, varianceBar2: 0.0001 },
          { fromRow: 160, toRow: 200, fallBar: 0.25, atBar: 1.95, varianceBar2: 0.0002 },
        ],
      },
      timeMs,
      pressureBar,
      300,
      { heightBar: 0.15, exponent: 0 },
      cells,
      new Float32Array(300),
      0,
    );
    const standing = closeCells([cells], 300_000, 0.003, 0, 0.07).bar;
    expect(standing[15]).toBeCloseTo(2, 1);
    expect(standing[18]).toBeCloseTo(2, 2);
  });
});

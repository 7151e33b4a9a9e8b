import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import { edgeLevels } from '../../../../api/analysis/supply/edge-levels.ts';
import { scanEdges } from '../../../../api/analysis/supply/edge-scan.ts';
import { rateTuning } from '../../../../api/analysis/supply/rate-tuning.ts';
import { LocalFlicker } from '../../../../api/analysis/supply/street-flicker.ts';
import { seeded } from '../../../labelled/other-street/seeded.ts';
import { MONDAY_MS, PLAIN_SITE } from '../plain-house.ts';

const HOUR_S = 3600;
const DRAW_S = 1800;

/** An hour of a quiet main at 1 Hz with something taken off it, and white noise. */
function hourLess(fallBar: (sinceS: number) => number, street: (atS: number) => number = () => 3) {
  const chance = seeded('edges of draws');
  const pressureBar = Float64Array.from(
    { length: HOUR_S },
    (_, s) => street(s) - fallBar(s - DRAW_S) + 0.003 * chance.normal(),
  );
  const timeMs = Float64Array.from({ length: HOUR_S }, (_, s) => MONDAY_MS + s * 1000);
  return analyse({ timeMs, pressureBar }, PLAIN_SITE);
}

const drawsOf = (found: ReturnType<typeof analyse>) =>
  found.draws.map(({ start, end }) => [
    (Date.parse(start) - MONDAY_MS) / 1000 - DRAW_S,
    (Date.parse(end) - MONDAY_MS) / 1000 - DRAW_S,
  ]);

/** Flow of a float valve: full for a minute, then dying away over 40 s. */
const cistern = (sinceS: number) => (sinceS < 0 ? 0 : sinceS < 60 ? 0.2 : 0.2 * Math.max(0, 1 - (sinceS - 60) / 40));

describe('where a draw begins and ends', () => {
  it('a cistern that shuts slowly is one draw, though a tap runs meanwhile', () => {
    const tap = (s: number) => (s >= 20 && s < 27 ? 0.15 : 0);
    const [draw, ...more] = drawsOf(hourLess((s) => cistern(s) + tap(s)));
    expect(more).toEqual([]);
    expect(draw![0]).toBeCloseTo(0, -0.3);
    expect(draw![1]).toBeGreaterThan(85);
    expect(draw![1]).toBeLessThan(106);
  });

  it('a cistern’s end is seen on a street that wanders off by a third of its fall', () => {
    const [draw, ...more] = drawsOf(hourLess(cistern, (s) => 3 - 0.06 * Math.min(1, Math.max(0, (s - DRAW_S) / 90))));
    expect(more).toEqual([]);
    expect(draw![1]).toBeGreaterThan(80);
    expect(draw![1]).toBeLessThan(125);
  });

  it('a street that falls after a small opening is no draw that tapers off', () => {
    const street = (s: number) => 1.3 - 0.9 * Math.min(1, Math.max(0, (s - DRAW_S - 20) / 60));
    const back = (s: number) => (s < DRAW_S + 230 ? street(s) : Math.min(1.3, 0.4 + (0.9 * (s - DRAW_S - 230)) / 60));
    const found = hourLess((s) => (s >= 0 && s < 30 ? 0.02 : 0), back);
    expect(drawsOf(found)).toEqual([]);
    expect(found.lowSupply).toHaveLength(1);
    const [low] = found.lowSupply;
    expect((Date.parse(low!.end) - Date.parse(low!.start)) / 1000).toBeCloseTo(190, -1);
  });

  it('a tap opened three seconds after another is an edge of its own', () => {
    const [draw, ...more] = drawsOf(hourLess((s) => (s >= 0 && s < 90 ? 0.06 : 0) + (s >= 4 && s < 12 ? 0.4 : 0)));
    expect(more).toEqual([]);
    expect(draw![0]).toBeGreaterThanOrEqual(-1);
    expect(draw![0]).toBeLessThanOrEqual(1);
    expect(draw![1]).toBeGreaterThan(85);
  });

  it('the surge of a pipe that is shut off opens no draw, and hides none', () => {
    // Overshoots by a third of the fall and dies away within seconds.
    const surge = (since: number) => (since < 0 ? 0 : -0.15 * Math.exp(-since / 1.5));
    const tap = (s: number, from: number, to: number, fall: number) =>
      s >= from && s < to ? fall : fall * 3 * surge(s - to);
    const draws = drawsOf(hourLess((s) => tap(s, 0, 16, 0.5) + tap(s, 140, 160, 0.3) + tap(s, 900, 930, 0.2)));
    expect(draws.map(([from]) => from)).toEqual([0, 140, 900].map((at) => expect.closeTo(at, -0.3)));
    expect(draws.map(([from, to]) => to! - from!)).toEqual([16, 20, 30].map((s) => expect.closeTo(s, -0.7)));
  });

  it('a steep ramp that a noisy sensor shows holds no edge, and low supply behind it is certain', () => {
    const chance = seeded('steep ramp');
    const street = (s: number) => 2.2 - 1.6 * Math.min(1, Math.max(0, (s - 1000) / 60), Math.max(0, (1340 - s) / 100));
    const pressureBar = Float64Array.from({ length: HOUR_S }, (_, s) => street(s) + 0.0075 * chance.normal());
    const timeMs = Float64Array.from({ length: HOUR_S }, (_, s) => MONDAY_MS + s * 1000);
    const found = analyse({ timeMs, pressureBar }, PLAIN_SITE);
    expect(found.draws).toEqual([]);
    expect(found.lowSupply).toHaveLength(1);
    expect((Date.parse(found.lowSupply[0]!.start) - MONDAY_MS) / 1000).toBeCloseTo(1056, -1);
  });

  it('taps opened in minutes that follow one another are a draw at a reading every minute, and no sag', () => {
    const chance = seeded('minutes that follow');
    const falls = [0.33, 0.79, 1.41, 0.79, 0.79, 0.79, 1.21, 0.79, 0.79, 0.79, 0.79, 0.79, 0.79];
    const [rows, opened] = [24 * 60, 19 * 60];
    const pressureBar = Float64Array.from(
      { length: rows },
      (_, i) => 4.03 - (falls[i - opened] ?? 0) + 0.007 * chance.normal(),
    );
    const timeMs = Float64Array.from({ length: rows }, (_, i) => MONDAY_MS + i * 60_000);
    const found = analyse({ timeMs, pressureBar }, { ...PLAIN_SITE, intervalS: 60 });
    expect(found.draws).toHaveLength(1);
    expect((Date.parse(found.draws[0]!.start) - MONDAY_MS) / 60_000).toBe(opened);
    expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
  });

  it('where a reading every minute hides small draws in what the street does, the floor says so', () => {
    const street = (wanderBar: number) => {
      const chance = seeded('floor');
      const [rows, opened] = [24 * 60, 10 * 60];
      let wander = 0;
      const pressureBar = Float64Array.from({ length: rows }, (_, i) => {
        wander = 0.6 * wander + wanderBar * chance.normal();
        return 2.5 + wander - (i >= opened && i < opened + 10 ? 0.045 : 0);
      });
      const timeMs = Float64Array.from({ length: rows }, (_, i) => MONDAY_MS + i * 60_000);
      return analyse({ timeMs, pressureBar }, { ...PLAIN_SITE, intervalS: 60 });
    };
    const quiet = street(0.002);
    expect(quiet.draws).toHaveLength(1);
    expect(quiet.detectionFloor!.dropBar).toBeLessThan(0.045);
    const restless = street(0.009);
    expect(restless.draws).toEqual([]);
    expect(restless.detectionFloor!.dropBar).toBeGreaterThan(0.045);
  });

  it('a slow hand’s turns are part of the draw', () => {
    const turn = (s: number) => Math.min(1, Math.max(0, s / 4), Math.max(0, (10 - s) / 4));
    const [draw] = drawsOf(hourLess((s) => 0.3 * turn(s)));
    expect(draw![1]! - draw![0]!).toBeGreaterThanOrEqual(8);
    expect(draw![1]! - draw![0]!).toBeLessThanOrEqual(11);
  });

  it('the street that recovers through the level before a draw doesn’t end it', () => {
    // D = K·(p − h)^0.926 at a low and at a restored pressure: the tap runs on through both.
    const street = (s: number) => 0.5 + 1.2 * Math.min(1, Math.max(0, (s - DRAW_S - 60) / 60));
    const fall = (s: number) => {
      if (s < 0 || s >= 400) return 0;
      const standing = street(s + DRAW_S);
      return (standing - 0.1) * 0.35;
    };
    const [draw, ...more] = drawsOf(hourLess(fall, street));
    expect(more).toEqual([]);
    expect(draw![1]).toBeCloseTo(400, -1);
  });

  it('a tap opened 20 s after a cistern is an edge of its own at a reading every 10 s', () => {
    const chance = seeded('slow edges');
    const [rows, opened] = [720, 300];
    const fall = (row: number) =>
      (row >= opened && row < opened + 12 ? 0.035 : 0) + (row >= opened + 2 && row < opened + 4 ? 0.06 : 0);
    const pressureBar = Float64Array.from({ length: rows }, (_, i) => 3 - fall(i) + 0.002 * chance.normal());
    const timeMs = Float64Array.from({ length: rows }, (_, i) => MONDAY_MS + i * 10_000);
    const [draw, ...more] = analyse({ timeMs, pressureBar }, { ...PLAIN_SITE, intervalS: 10 }).draws;
    expect(more).toEqual([]);
    expect((Date.parse(draw!.start) - MONDAY_MS) / 10_000).toBe(opened);
    expect((Date.parse(draw!.end) - MONDAY_MS) / 10_000).toBe(opened + 12);
    // 12 rows of 0.035 bar, two of them 0.06 bar deeper.
    expect(draw!.dropBar).toBeCloseTo(0.045, 2);
  });

  it('a draw of four readings, the first and last of them half way, leaves no edge behind that another draw would need', () => {
    const chance = seeded('four readings');
    const [quickS, longS] = [3600, 7200];
    const fall = (s: number) => {
      const quick = [0.36, 0.94, 0.95, 0.27][(s - quickS) / 2] ?? 0;
      // A cistern fills an hour later; its float shuts so slowly that no edge ends it.
      return quick + 0.17 * Math.max(0, Math.min(1, (longS + 120 - s) / 60)) * (s >= longS ? 1 : 0);
    };
    const timeMs = Float64Array.from({ length: 7200 }, (_, i) => MONDAY_MS + i * 2000);
    const pressureBar = timeMs.map((_, i) => 2.67 - fall(2 * i) + 0.003 * chance.normal());
    const found = analyse({ timeMs, pressureBar }, { ...PLAIN_SITE, intervalS: 2 });
    const lengths = found.draws.map(({ start, end }) => (Date.parse(end) - Date.parse(start)) / 1000);
    expect(lengths.at(-1)).toBeGreaterThan(80);
    expect(lengths.at(-1)).toBeLessThan(130);
    expect(Math.max(...lengths)).toBeLessThan(130);
    const standing = found.standing!.bar.filter((bar) => bar !== null);
    expect(Math.min(...standing)).toBeGreaterThan(2.63);
  });
});

describe('an edge at slow rates', () => {
  const edgesOf = (pressureBar: readonly number[], noiseBar: number, intervalS = 10) => {
    const bar = Float64Array.from(pressureBar);
    const tuning = rateTuning(intervalS);
    const flicker = new LocalFlicker(bar, 0, bar.length, tuning, noiseBar, noiseBar, 0);
    const rows = scanEdges(bar, 0, bar.length, tuning, noiseBar, 0, flicker);
    const edges = edgeLevels(bar, 0, bar.length, rows, tuning, noiseBar, flicker);
    return Array.from(edges.row, (row, k) => ({ row, beforeBar: edges.beforeBar[k]!, afterBar: edges.afterBar[k]! }));
  };
  const level = (bar: number, rows: number) => Array.from({ length: rows }, (_, i) => bar + 0.002 * ((i % 3) - 1));

  it('has the level of the row next to it where the flow eases only later', () => {
    // The second tap is caught half open, and eased a quarter of a minute later.
    const eased = [1.523, 1.519, 1.518, 1.259, 1.004, 1.003, 1.093, 1.202, 1.212, 1.202];
    const edges = edgesOf([...level(1.86, 40), ...eased, ...level(1.86, 40)], 0.01);
    expect(edges.slice(0, 2).map(({ row }) => row)).toEqual([40, 43]);
    expect(edges[1]!.afterBar).toBeGreaterThan(0.98);
  });

  it('has the level that a fall over three rows comes to', () => {
    const edges = edgesOf([...level(2.7, 40), 2.183, 0.569, ...level(0.39, 40)], 0.0075, 60);
    expect(Math.abs(edges.at(-1)!.afterBar - 0.39)).toBeLessThan(0.02);
  });

  it('is none in the midst of a street’s fall, after a tap that shut in it', () => {
    const ramp = (from: number, rows: number) => Array.from({ length: rows }, (_, i) => from - 0.112 * i);
    // A tap of 0.25 bar is open in rows 47 to 52 of a fall at 0.112 bar a row.
    const falling = ramp(2.41, 19).map((bar, i) => (i >= 7 && i < 13 ? bar - 0.25 : bar));
    const edges = edgesOf([...level(2.52, 40), ...falling, ...level(0.39, 40)], 0.003);
    expect(edges.filter(({ beforeBar, afterBar }) => beforeBar - afterBar > 0.15).map(({ row }) => row)).toEqual([47]);
  });
});

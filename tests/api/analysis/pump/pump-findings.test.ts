import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { boosterHouse, START_MS } from './booster-house.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

const NONE = { intervalS: 1, noiseBar: 0.002, quantumBar: 0 };

/** A saw of clean ramps: falls from 3.5 to 2 bar over `restS`, rises back over `runS`. */
function saw(cycles: number, restS: number, runS: number): { timeMs: Float64Array; pressureBar: Float64Array } {
  const period = restS + runS;
  const timeMs = Float64Array.from({ length: cycles * period + 1 }, (_, s) => START_MS + s * 1000);
  const pressureBar = timeMs.map((_, s) => {
    const within = s % period;
    return within <= restS ? 3.5 - (1.5 * within) / restS : 2 + (1.5 * (within - restS)) / runS;
  });
  return { timeMs, pressureBar };
}

describe('findPump', () => {
  it('says nothing about an empty log, or one of unusable rows', () => {
    for (const rows of [0, 5]) {
      const found = findPump({
        timeMs: Float64Array.from({ length: rows }, (_, k) => START_MS + 1000 * k),
        pressureBar: new Float64Array(rows).fill(Number.NaN),
        site: OUTLET_SITE,
        ...NONE,
      });
      expect(found.pumpStarts).toEqual([]);
      expect(found.cycling).toEqual([]);
      expect(found.changes).toEqual([]);
    }
  });

  it('places a start on the last low row before the rise and a stop on the first row at the top', () => {
    const { timeMs, pressureBar } = saw(6, 300, 6);
    const { pumpStarts } = findPump({ timeMs, pressureBar, site: OUTLET_SITE, ...NONE });
    expect(pumpStarts.slice(0, 5).map((start) => (Date.parse(start.start) - START_MS) / 1000)).toEqual([
      300, 606, 912, 1218, 1524,
    ]);
    expect((Date.parse(pumpStarts[0]!.stop!) - START_MS) / 1000).toBe(306);
    expect(pumpStarts[0]!.cutInBar).toBeCloseTo(2, 1);
    expect(pumpStarts[0]!.cutOutBar).toBeCloseTo(3.5, 1);
  });

  it('marks every start at a pump’s outlet up to 10 s', () => {
    for (const intervalS of [1, 10]) {
      const log = boosterHouse({ intervalS, days: 1, leakLpm: 0.1 });
      const { pumpStarts } = findPump({
        ...log,
        inletBar: undefined,
        pumpOn: undefined,
        flowLpm: undefined,
        site: OUTLET_SITE,
        intervalS,
        noiseBar: 0.005,
        quantumBar: 0.001,
      });
      expect(pumpStarts.length).toBeGreaterThan(20);
      expect(pumpStarts.every((start) => start.onDemand !== undefined)).toBe(true);
    }
  });

  it('never takes a gap for a start', () => {
    const log = boosterHouse({ days: 1 });
    const whole = findPump({
      timeMs: log.timeMs,
      pressureBar: log.pressureBar,
      site: OUTLET_SITE,
      ...NONE,
      noiseBar: 0.005,
    });
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 86_000 }), fc.integer({ min: 20, max: 4_000 }), (from, length) => {
        const pressureBar = Float64Array.from(log.pressureBar);
        pressureBar.fill(Number.NaN, from, from + length);
        const found = findPump({ timeMs: log.timeMs, pressureBar, site: OUTLET_SITE, ...NONE, noiseBar: 0.005 });
        const firstMs = log.timeMs[from]!;
        const lastMs = log.timeMs[Math.min(from + length, 86_399)]!;
        for (const start of found.pumpStarts) {
          const atMs = Date.parse(start.start);
          expect(atMs < firstMs || atMs > lastMs).toBe(true);
        }
        expect(found.pumpStarts.length).toBeLessThanOrEqual(whole.pumpStarts.length + 1);
      }),
      { numRuns: 20, seed: 7 },
    );
  });

  it('takes starts from a pump channel at any position, none across a gap', () => {
    const timeMs = Float64Array.from([0, 1, 2, 3, 4, 300, 301, 302, 303].map((s) => START_MS + 1000 * s));
    const pumpOn = Float64Array.from([0, 1, 1, 0, 0, 1, 0, 1, 0]);
    const pressureBar = new Float64Array(9).fill(1.5);
    const site = { ...OUTLET_SITE, sensor: { ...OUTLET_SITE.sensor, position: 'pump_inlet' as const } };
    const { pumpStarts } = findPump({ timeMs, pressureBar, pumpOn, site, ...NONE });
    expect(pumpStarts.map((start) => (Date.parse(start.start) - START_MS) / 1000)).toEqual([1, 302]);
    expect(pumpStarts.map((start) => (Date.parse(start.stop!) - START_MS) / 1000)).toEqual([3, 303]);
  });

  it('finds a weak inlet before the pump without a pump channel', () => {
    const log = boosterHouse({ days: 1, inletBar: 0.75, serviceLossBar: 0.3 });
    const site = { ...OUTLET_SITE, sensor: { ...OUTLET_SITE.sensor, position: 'pump_inlet' as const } };
    const { weakInlet, pumpStarts } = findPump({
      timeMs: log.timeMs,
      pressureBar: log.inletBar,
      site,
      ...NONE,
      noiseBar: 0.005,
    });
    const weak = log.starts.filter((start) => start.lowestInletBar < 0.28);
    expect(pumpStarts).toEqual([]);
    expect(weakInlet.length / weak.length).toBeGreaterThan(0.9);
    expect(weakInlet.every((spell) => spell.minBar < 0.3 && spell.end > spell.start)).toBe(true);
  });

  it('gives the cautions with whatever it says to do next', () => {
    const log = boosterHouse({ days: 1, leakLpm: 0.2 });
    const { cycling } = findPump({
      timeMs: log.timeMs,
      pressureBar: log.pressureBar,
      site: OUTLET_SITE,
      ...NONE,
      noiseBar: 0.005,
    });
    expect(cycling.length).toBeGreaterThan(0);
    for (const episode of cycling) {
      expect(episode.starts).toBeGreaterThanOrEqual(4);
      // Common practice: isolate electrically and hydraulically, release the pressure, leave it to licensed people.
      expect(episode.nextSteps!.join(' ')).toMatch(/isolate it electrically and hydraulically/);
      expect(episode.nextSteps!.join(' ')).toMatch(/licensed/);
    }
  });
});

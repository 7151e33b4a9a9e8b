import { describe, expect, it } from 'vitest';
import { curveStatements, operatingPoints } from '../../../../api/analysis/pump/operating-points.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import type { PumpRun } from '../../../../api/analysis/pump/pump-run.ts';
import { random } from './seeded-random.ts';

/*
 * A curve of the form H = 24 m − 1/36 m·(Q in l/min)² at the pump's speed, the quadratic form of textbooks on pumps
 * (Karassik, Pump Handbook, from memory). Heads in bar: 1 bar = 10.197 m of water at 10 °C and 9.80665 m/s² (ISO 80000-4:
 * p = ρgh with ρ = 999.7 kg/m³). Slower by a share s it lifts s² of the head at s of the flow (affinity laws).
 */
const BAR_PER_M = 0.0980376;
const headBar = (lpm: number, speed = 1): number => BAR_PER_M * (24 * speed ** 2 - lpm ** 2 / 36);
const CURVE = [0, 4, 8, 12, 16, 20, 24].map((flowLpm) => ({ flowLpm, headBar: headBar(flowLpm) }));
const INLET_BAR = 1.2;

/** Runs of a minute with a steady draw each, on a curve of the given speed, read with 5 mbar of noise. */
function plant(flows: readonly number[], speed: number) {
  const next = random(11);
  const seconds = 120 * flows.length;
  const timeMs = Float64Array.from({ length: seconds }, (_, s) => 1000 * s);
  const flowLpm = timeMs.map((_, s) => (s % 120 < 60 ? flows[Math.floor(s / 120)]! : 0));
  const bar = timeMs.map((_, s) => {
    const noise = 0.005 * (next() + next() + next() - 1.5) * 2;
    return noise + (s % 120 < 60 ? INLET_BAR + headBar(flowLpm[s]!, speed) : 3.2);
  });
  const rows = pumpRows(timeMs, bar, 1, 0.005, 0);
  const runs: PumpRun[] = flows.map((_, k) => ({
    startMs: 120_000 * k,
    startRow: 120 * k,
    stopMs: 120_000 * k + 60_000,
    stopRow: 120 * k + 60,
  }));
  return operatingPoints(
    rows,
    runs,
    CURVE,
    () => INLET_BAR,
    (row) => flowLpm[row]!,
  );
}

const FLOWS = [5, 9, 12, 7, 14, 10, 6, 11];

describe('operating points against the curve', () => {
  it('finds a sound pump on its curve, whatever is drawn', () => {
    const found = plant(FLOWS, 1)!;
    expect(found.verdict).toBe('on_its_curve');
    expect(found.headShare).toBeCloseTo(1, 1);
    expect(found.interval[0]).toBeLessThanOrEqual(found.headShare);
    expect(found.interval[1]).toBeGreaterThanOrEqual(found.headShare);
    expect(curveStatements(found)[0]!.text).toMatch(/more is drawn than it is made for/);
  });

  it.each([0.85, 0.8, 0.75])(
    'finds a pump that turns at %f of its speed below its curve, by the affinity laws',
    (speed) => {
      const found = plant(FLOWS, speed)!;
      const shares = FLOWS.map((lpm) => headBar(lpm, speed) / headBar(lpm)).sort((a, b) => a - b);
      expect(found.verdict).toBe('below_its_curve');
      expect(found.headShare).toBeGreaterThan(shares[0]! - 0.03);
      expect(found.headShare).toBeLessThan(shares[shares.length - 1]! + 0.03);
      expect(curveStatements(found)[0]!.text).toMatch(/worn, clogged or turns too slowly/);
    },
  );

  it('tells a great draw from wear: low pressure at a flow where the curve gives no more', () => {
    // At 20 l/min the curve gives 1.26 bar: the outlet never reaches a cut-out of 3 bar, and the pump is sound.
    const found = plant([20, 20, 19, 20, 20], 1)!;
    expect(INLET_BAR + headBar(20)).toBeLessThan(3);
    expect(found.verdict).toBe('on_its_curve');
  });

  it('claims nothing past the curve’s last point, without enough runs, or without the inlet or a meter', () => {
    expect(plant([26, 27, 26, 28], 1)).toBeUndefined();
    expect(plant([10, 12], 1)).toBeUndefined();
    const rows = pumpRows(Float64Array.of(0, 1000), Float64Array.of(1, 1), 1, 0.005, 0);
    expect(operatingPoints(rows, [], CURVE, undefined, () => 5)).toBeUndefined();
    expect(operatingPoints(rows, [], CURVE, () => 1, undefined)).toBeUndefined();
    expect(
      operatingPoints(
        rows,
        [],
        undefined,
        () => 1,
        () => 5,
      ),
    ).toBeUndefined();
    expect(curveStatements(undefined)).toEqual([]);
  });
});

import { describe, expect, it } from 'vitest';
import { converterStepBar, Sensor, type SensorPlan } from '../../simulator/sensor.ts';

const PLAN: SensorPlan = { rangeBar: [0, 10], accuracyBar: 0.1, offsetBar: 0, noiseBar: 0, stepBar: 0.001 };

describe('transducer', () => {
  // One step of a converter over 5 V at 0.4 V a bar: 10 bits 0.012207 bar, 12 bits 0.0030518 bar (arithmetic).
  it.each([
    [10, 0.012207],
    [12, 0.0030518],
  ])('%i bits over 10 bar step by %f bar', (bits, step) => {
    expect(converterStepBar([0, 10], bits)).toBeCloseTo(step, 6);
  });

  it('reads whole steps, within half a step of the truth', () => {
    const stepBar = converterStepBar([0, 10], 10);
    const sensor = new Sensor({ ...PLAN, stepBar }, 1, 'pressure');
    for (let bar = 0.1; bar < 9.9; bar += 0.0137) {
      const read = sensor.read(bar);
      expect(Math.abs(read - bar)).toBeLessThanOrEqual(stepBar / 2 + 1e-12);
      expect(Math.abs(read / stepBar - Math.round(read / stepBar))).toBeLessThan(1e-9);
    }
  });

  // Rounding to steps leaves a rectangular error of step/√12 (JCGM 100:2008, F.2.2.1).
  it('its rounding has the standard deviation of a rectangle', () => {
    const stepBar = converterStepBar([0, 10], 10);
    const sensor = new Sensor({ ...PLAN, stepBar }, 1, 'pressure');
    let squares = 0;
    const count = 50_000;
    for (let i = 0; i < count; i++) {
      const bar = 1 + (i * 7.7777) / count;
      squares += (sensor.read(bar) - bar) ** 2;
    }
    expect(Math.sqrt(squares / count) / (stepBar / Math.sqrt(12))).toBeCloseTo(1, 2);
  });

  it('adds its noise and offset, and stays in its range', () => {
    const sensor = new Sensor({ ...PLAN, noiseBar: 0.02, offsetBar: 0.05 }, 2, 'pressure');
    const errors = Array.from({ length: 20_000 }, () => sensor.read(3) - 3);
    const mean = errors.reduce((a, b) => a + b, 0) / errors.length;
    const sd = Math.sqrt(errors.reduce((a, b) => a + (b - mean) ** 2, 0) / errors.length);
    expect(mean).toBeCloseTo(0.05, 3);
    expect(sd).toBeCloseTo(0.02, 3);
    expect(sensor.read(12)).toBe(10);
    expect(sensor.read(-3)).toBe(0);
  });
});

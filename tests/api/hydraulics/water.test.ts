import { describe, expect, it } from 'vitest';
import { waterDensityKgM3 } from '../../../api/hydraulics/water.ts';

describe('density of water', () => {
  // Tanaka et al., Metrologia 38 (2001) 301–309; values computed from its formula by several independent programs.
  it.each([
    [0, 999.8428],
    [4, 999.9749],
    [10, 999.7027],
    [15, 999.1026],
    [20, 998.2067],
    [25, 997.047],
    [40, 992.2152],
  ])('at %d °C is %d kg/m³', (temperatureC, density) => {
    expect(Math.abs(waterDensityKgM3(temperatureC) - density)).toBeLessThan(5e-4);
  });

  it.each([-0.1, 40.1, Number.NaN])('is not told at %d °C', (temperatureC) => {
    expect(() => waterDensityKgM3(temperatureC)).toThrow(RangeError);
  });
});

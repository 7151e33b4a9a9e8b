import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  cycleSeconds,
  drawdownLitres,
  mostStartsPerHour,
  shortestCycleSeconds,
  startsPerHour,
  usableLitresFor,
} from '../../../api/hydraulics/vessel.ts';

describe('drawdown of a pressure vessel', () => {
  it.each([
    // Worked example of a US vessel handbook: 85 US gal, pre-charge 28 psi, 30/50 psi, atmosphere 14.7 psi: prints
    // 25.1 gal and a factor of 0.295 (read in a trade text; 25.0995 computed from its formula).
    { volume: 85, preCharge: 28, cutIn: 30, cutOut: 50, atmosphere: 14.7, drawdown: 25.0995 },
    // The same at 6000 ft, atmosphere 11.8 psi: the text prints 26.1 to 26.2 gal; 26.19 computed.
    { volume: 85, preCharge: 28, cutIn: 30, cutOut: 50, atmosphere: 11.8, drawdown: 26.19 },
    // Computed by hand from Boyle's law in absolute pressures: 8·2.81325·(1/3.01325 − 1/4.51325).
    { volume: 8, preCharge: 1.8, cutIn: 2, cutOut: 3.5, atmosphere: 1.01325, drawdown: 2.48236 },
    { volume: 100, preCharge: 1.3, cutIn: 1.5, cutOut: 3, atmosphere: 1.01325, drawdown: 34.402 },
    { volume: 100, preCharge: 1.5, cutIn: 1.5, cutOut: 3, atmosphere: 1.01325, drawdown: 37.376 },
  ])(
    'is $drawdown of $volume between $cutIn and $cutOut',
    ({ volume, preCharge, cutIn, cutOut, atmosphere, drawdown }) => {
      const found = drawdownLitres({ volumeL: volume, preChargeBar: preCharge }, cutIn, cutOut, atmosphere);
      expect(Math.abs(found / drawdown - 1)).toBeLessThan(1e-4);
    },
  );

  it('is not what gauge pressures put into the formula would give', () => {
    // 8·(1.8/2 − 1.8/3.5) = 3.0857: the usual mistake, a quarter too much.
    const found = drawdownLitres({ volumeL: 8, preChargeBar: 1.8 }, 2, 3.5);
    expect(Math.abs(found - 3.0857)).toBeGreaterThan(0.5);
  });

  it('gives nothing below its pre-charge, nor from an empty band', () => {
    const vessel = { volumeL: 8, preChargeBar: 2 };
    expect(drawdownLitres(vessel, 1, 3)).toBe(drawdownLitres(vessel, 2, 3));
    expect(drawdownLitres(vessel, 3, 3)).toBe(0);
    expect(() => drawdownLitres(vessel, -2, 3)).toThrow(RangeError);
    expect(() => drawdownLitres({ volumeL: -1, preChargeBar: 2 }, 2, 3)).toThrow(RangeError);
  });
});

describe('starts per hour', () => {
  // T = V/q + V/(Q − q), computed by hand with V = 2.4824 l and Q = 30 l/min.
  it.each([
    { demand: 2, starts: 45.12 },
    { demand: 5, starts: 100.71 },
    { demand: 10, starts: 161.14 },
    { demand: 15, starts: 181.28 },
    { demand: 20, starts: 161.14 },
    { demand: 25, starts: 100.71 },
  ])('are $starts at a demand of $demand l/min', ({ demand, starts }) => {
    expect(startsPerHour(2.4824, 30, demand)).toBeCloseTo(starts, 1);
  });

  it('are most at half the pump’s flow: 4·V/Q is the shortest cycle', () => {
    expect(mostStartsPerHour(2.4824, 30)).toBeCloseTo(181.28, 2);
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 29.99, noNaN: true }), (demand) => {
        expect(cycleSeconds(2.4824, 30, demand)).toBeGreaterThanOrEqual(shortestCycleSeconds(2.4824, 30) - 1e-9);
      }),
    );
  });

  it('size the vessel: 22.5 l usable for 20 starts an hour at 30 l/min', () => {
    expect(usableLitresFor(20, 30)).toBeCloseTo(22.5, 10);
    expect(mostStartsPerHour(22.5, 30)).toBeCloseTo(20, 10);
  });

  it('are none where the pump never stops or nothing is drawn', () => {
    expect(startsPerHour(2.5, 30, 30)).toBe(0);
    expect(startsPerHour(2.5, 30, 0)).toBe(0);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  applyMap,
  BAR_PER_METRE_OF_WATER,
  chain,
  endPointMap,
  toNineSignificantDigits,
  unitMap,
} from '../../../collector/model/units.ts';

/** Relative agreement, as published factors are stated to a number of digits. */
function expectRelative(actual: number, expected: number, relative: number): void {
  expect(Math.abs(actual - expected) / Math.abs(expected)).toBeLessThan(relative);
}

function toBar(value: number, unit: string): number {
  return applyMap(unitMap('pressure', unit)!, value);
}

describe('pressure units become bar', () => {
  // Factors of NIST SP 811 (2008) appendix B.8: psi 6.894757 E+03 Pa, conventional metre of water 9.80665 E+03 Pa.
  it.each([
    ['psi', 1, 0.0689475729316836],
    ['psi', 20, 1.3789514586],
    ['psi', 35, 2.4131650526],
    ['mH2O', 7, 0.6864655],
    ['mH2O', 10, 0.980665],
    ['kPa', 150, 1.5],
    ['MPa', 0.181, 1.81],
    ['hPa', 1013.25, 1.01325],
    ['mbar', 1482, 1.482],
    ['Pa', 310_000, 3.1],
  ])('%s: %d is %d bar', (unit, value, bar) => expectRelative(toBar(value, unit), bar, 1e-9));

  it('1 bar is 14.503773773 psi (NIST SP 811, exact definitions of pound and inch)', () => {
    expectRelative(1 / unitMap('pressure', 'psi')!.gain, 14.503773773020923, 1e-12);
  });

  it('0.60 bar at a gauge 1.2 m above the stop tap is 0.71768 bar at the stop tap (conventional metre of water)', () => {
    expect(0.6 + 1.2 * BAR_PER_METRE_OF_WATER).toBeCloseTo(0.7176798, 7);
  });
});

describe('flow units become litres a minute', () => {
  // Arithmetic of the SI; 0.2 l/s for a kitchen sink is EN 806-3:2006 table 2.
  it.each([
    ['l/s', 0.2, 12],
    ['m3/h', 1, 1000 / 60],
    ['m3/s', 2e-4, 12],
  ])('%s: %d is %d l/min', (unit, value, lpm) => expectRelative(applyMap(unitMap('flow', unit)!, value), lpm, 1e-12));
});

describe("a transducer's end points", () => {
  it.each([
    // 0.5 to 4.5 V on 0 to 10 bar: common practice, no source; the figures are arithmetic of the straight line.
    [0.5, 0],
    [1.7, 3],
    [2.5, 5],
    [4.5, 10],
  ])('%d V is %d bar', (volts, bar) => {
    const map = endPointMap([
      { raw: 0.5, bar: 0 },
      { raw: 4.5, bar: 10 },
    ])!;
    expect(applyMap(map, volts)).toBeCloseTo(bar, 12);
  });

  it.each([
    // 4 to 20 mA, full scale 10 bar: p = 10·(I − 4)/16, by the definition of the current loop.
    [12, 5],
    [3.8, -0.125],
    [20.5, 10.3125],
  ])('%d mA is %d bar', (milliamperes, bar) => {
    const map = endPointMap([
      { raw: 4, bar: 0 },
      { raw: 20, bar: 10 },
    ])!;
    expect(applyMap(map, milliamperes)).toBeCloseTo(bar, 12);
  });

  it('two end points at one raw value are no line', () => {
    expect(
      endPointMap([
        { raw: 1, bar: 0 },
        { raw: 1, bar: 10 },
      ]),
    ).toBeUndefined();
  });

  it('a raw unit has no line of its own', () => {
    for (const unit of ['V', 'mV', 'mA', 'counts']) expect(unitMap('pressure', unit)).toBeUndefined();
  });
});

describe('lines', () => {
  it('a chain is one line after the other', () => {
    const line = fc.record({
      gain: fc.double({ min: -50, max: 50, noNaN: true }),
      offset: fc.double({ min: -50, max: 50, noNaN: true }),
    });
    fc.assert(
      fc.property(line, line, fc.double({ min: -1e4, max: 1e4, noNaN: true }), (inner, outer, value) => {
        expect(applyMap(chain(inner, outer), value)).toBeCloseTo(applyMap(outer, applyMap(inner, value)), 6);
      }),
    );
  });

  it('nine significant digits are kept and keeping them again changes nothing', () => {
    expect(toNineSignificantDigits(1.23456789012)).toBe(1.23456789);
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
        const once = toNineSignificantDigits(value);
        expect(toNineSignificantDigits(once)).toBe(once);
      }),
    );
  });
});

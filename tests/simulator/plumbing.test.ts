import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  deliveredBar,
  hazenWilliamsPipe,
  lossBar,
  noOutlets,
  type OpenOutlets,
  outletFlowLpm,
  pipeThatLoses,
  runningBar,
} from '../../simulator/plumbing.ts';

function outlets(...entries: readonly (readonly [coefficient: number, heightBar: number])[]): OpenOutlets {
  const open = noOutlets();
  for (const [coefficient, heightBar] of entries) {
    open.coefficient[open.count] = coefficient;
    open.heightBar[open.count] = heightBar;
    open.count++;
  }
  return open;
}

describe('tap law', () => {
  // q = K·√p with 12 l/min at 3 bar (nozzle exponent 0.5, EPANET 2.2 manual, emitters); values by arithmetic.
  const tap = outlets([12 / Math.sqrt(3), 0]);
  it.each([
    [3, 12],
    [1.5, 8.4853],
    [1, 6.9282],
    [0.7, 5.7966],
    [0.5, 4.899],
  ])('at %f bar it passes %f l/min', (bar, lpm) => {
    expect(outletFlowLpm(tap, bar)).toBeCloseTo(lpm, 4);
  });

  it('an outlet above the pressure passes nothing', () => {
    expect(outletFlowLpm(outlets([10, 0.5]), 0.4)).toBe(0);
  });
});

describe('pipe loss', () => {
  // Hazen–Williams h = 10.667·L·Q^1.852/(C^1.852·d^4.8704) (EPANET 2.2 manual, table 3.1, converted): heads worked out apart.
  it.each([
    [0.3, 140, 20.4, 20, 1.15571],
    [0.3, 150, 20.4, 20, 1.01708],
    [0.5, 140, 20.4, 20, 2.97655],
    [8, 100, 100, 1000, 20.46279],
    [0.2, 140, 13.6, 10, 1.96487],
  ])('%f l/s, C %f, bore %f mm, %f m loses %f m', (litresASecond, c, boreMm, lengthM, headM) => {
    const pipe = hazenWilliamsPipe(lengthM, boreMm, c);
    expect(lossBar(pipe, litresASecond * 60) / 0.0980665).toBeCloseTo(headM, 4);
  });

  it('double the flow loses 2^1.852 times as much', () => {
    const pipe = pipeThatLoses(0.13244, 9, 1.852);
    expect(lossBar(pipe, 9)).toBeCloseTo(0.13244, 9);
    expect(lossBar(pipe, 18) / lossBar(pipe, 9)).toBeCloseTo(2 ** 1.852, 9);
  });
});

describe('house on its pipe', () => {
  const draw = fc.record({
    mainBar: fc.double({ min: 0.05, max: 8, noNaN: true }),
    neighbourLpm: fc.double({ min: 0, max: 15, noNaN: true }),
    lossAtNine: fc.double({ min: 0.005, max: 1.5, noNaN: true }),
    exponent: fc.double({ min: 1.7, max: 2, noNaN: true }),
    sharedLoss: fc.double({ min: 0.005, max: 0.4, noNaN: true }),
    taps: fc.array(
      fc.tuple(fc.double({ min: 0.2, max: 20, noNaN: true }), fc.double({ min: 0, max: 0.6, noNaN: true })),
      {
        minLength: 1,
        maxLength: 6,
      },
    ),
    guess: fc.double({ min: 0, max: 8, noNaN: true }),
  });

  it('the pressure found is the one at which the pipe delivers what the outlets pass, whatever the first guess', () => {
    fc.assert(
      fc.property(draw, ({ mainBar, neighbourLpm, lossAtNine, exponent, sharedLoss, taps, guess }) => {
        const pipes = { shared: pipeThatLoses(sharedLoss, 9, 1.85), own: pipeThatLoses(lossAtNine, 9, exponent) };
        const open = outlets(...taps);
        const bar = runningBar(pipes, mainBar, neighbourLpm, open, guess);
        const standing = Math.max(0, deliveredBar(pipes, mainBar, 0, neighbourLpm));
        expect(bar).toBeGreaterThanOrEqual(0);
        expect(bar).toBeLessThanOrEqual(standing + 1e-9);
        if (bar === 0) return;
        expect(deliveredBar(pipes, mainBar, outletFlowLpm(open, bar), neighbourLpm)).toBeCloseTo(bar, 5);
      }),
    );
  });

  it('one more open outlet never raises the pressure', () => {
    fc.assert(
      fc.property(draw, ({ mainBar, lossAtNine, exponent, taps }) => {
        const pipes = { shared: undefined, own: pipeThatLoses(lossAtNine, 9, exponent) };
        const before = runningBar(pipes, mainBar, 0, outlets(...taps), mainBar);
        const after = runningBar(pipes, mainBar, 0, outlets(...taps, [5, 0]), mainBar);
        expect(after).toBeLessThanOrEqual(before + 1e-5);
      }),
    );
  });

  // From the two laws the fall is D = K·(p − h)^(n/2): with n = 1.852 the exponent 0.926.
  it('a single tap’s fall follows the power 0.926 of its driving pressure', () => {
    const pipes = { shared: undefined, own: pipeThatLoses(0.2, 9, 1.852) };
    const tap = outlets([6, 0.3]);
    const falls = [3, 1.2].map((mainBar) => {
      const bar = runningBar(pipes, mainBar, 0, tap, mainBar);
      return { fall: mainBar - bar, driving: bar - 0.3 };
    });
    const power = Math.log(falls[0]!.fall / falls[1]!.fall) / Math.log(falls[0]!.driving / falls[1]!.driving);
    expect(power).toBeCloseTo(0.926, 3);
  });
});

import { describe, expect, it } from 'vitest';
import { accountDoubt } from '../../../../api/analysis/supply/account-doubt.ts';
import { segmentDraws } from '../../../../api/analysis/supply/segmentation.ts';
import { streetEdgeCosts } from '../../../../api/analysis/supply/street-costs.ts';
import { USUAL_TAP_LAW } from '../../../../api/analysis/supply/tap-law.ts';

/** A street at 2 bar with steps [second, bar] at 1 Hz, its edges known with a deviation and a flicker of so much. */
function accountOf(steps: readonly (readonly [number, number])[], flickerBar: number, mayBeginDrawn = false) {
  const seconds = 3000;
  const bar = (s: number) => 2 + steps.reduce((sum, [at, step]) => sum + (s >= at ? step : 0), 0);
  const timeMs = Float64Array.from({ length: seconds }, (_, s) => s * 1000);
  const row = Int32Array.from(steps, ([at]) => at);
  const edges = {
    count: steps.length,
    row,
    beforeBar: Float64Array.from(row, (s) => bar(s - 1)),
    afterBar: Float64Array.from(row, (s) => bar(s)),
    sdBar: new Float64Array(steps.length).fill(flickerBar),
    flickerBar: new Float64Array(steps.length).fill(flickerBar),
  };
  const weights = { edges, lasting: new Uint8Array(steps.length), noiseBar: 0.003, rampMisfit: 1.25 };
  const input = {
    ...weights,
    streetCost: streetEdgeCosts(weights),
    highestBar: bar(0),
    timeMs,
    pressureBar: Float64Array.from(timeMs, (_, s) => bar(s)),
    from: 0,
    to: seconds,
    mayBeginDrawn,
    levelRows: 8,
    turnRows: 5,
    leastFallBar: 0.03,
    law: USUAL_TAP_LAW,
  };
  const { draws, weighed } = segmentDraws(input);
  return { draws, sdBar: accountDoubt(input, draws, [], weighed).map(Math.sqrt) };
}

describe('what other accounts of the same edges leave open', () => {
  it('is next to nothing where a draw opens and closes clearly', () => {
    const { draws, sdBar } = accountOf(
      [
        [600, -0.4],
        [700, 0.4],
      ],
      0.004,
    );
    expect(draws).toHaveLength(1);
    expect(Math.max(...sdBar)).toBeLessThan(0.001);
  });

  it('is about half of the fall where the street may as well have made both edges, and nothing beyond them', () => {
    // Half of a fall is the most that two accounts can leave open between them: p·(1 − p) is at most a quarter.
    const steps = (bar: number) =>
      [
        [600, -bar],
        [700, bar],
      ] as const;
    const most = [0.045, 0.05, 0.055, 0.06, 0.065, 0.07].map((bar) => accountOf(steps(bar), 0.015).sdBar[650]! / bar);
    expect(Math.max(...most)).toBeGreaterThan(0.3);
    expect(Math.max(...most)).toBeLessThan(0.75);
    expect(accountOf(steps(0.05), 0.015).sdBar[2000]).toBeLessThan(0.001);
  });

  it('is little where a log clearly begins within a draw, and much where a street may have made its closing edge', () => {
    const within = (bar: number, flickerBar: number) => accountOf([[300, bar]], flickerBar, true);
    const clear = within(0.5, 0.004);
    expect(clear.draws).toHaveLength(1);
    expect(clear.sdBar[100]).toBeLessThan(0.05);
    const open = [0.1, 0.12, 0.14, 0.16, 0.18, 0.2].map((bar) => ({ bar, ...within(bar, 0.02) }));
    const doubted = open.filter(({ draws }) => draws.length === 1).map(({ bar, sdBar }) => sdBar[100]! / bar);
    expect(doubted.length).toBeGreaterThan(0);
    expect(Math.max(...doubted)).toBeGreaterThan(0.1);
  });

  it('is most of the step just before a rise that no street makes and no opening explains, and fades', () => {
    const { draws, sdBar } = accountOf([[1600, 0.3]], 0.004);
    expect(draws).toHaveLength(0);
    expect(sdBar[1610]).toBeLessThan(0.01);
    expect(sdBar[1595]).toBeGreaterThan(0.2);
    expect(sdBar[800]).toBeLessThan(0.02);
  });

  it('never is less than nothing', () => {
    const { sdBar } = accountOf(
      [
        [600, -0.2],
        [640, -0.1],
        [700, 0.12],
        [760, 0.19],
        [900, 0.05],
        [1000, -0.06],
      ],
      0.01,
    );
    expect(sdBar.every((sd) => sd >= 0)).toBe(true);
  });
});

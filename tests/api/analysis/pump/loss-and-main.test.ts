import { describe, expect, it } from 'vitest';
import { oddsByMain } from '../../../../api/analysis/pump/loss-and-main.ts';
import { random } from './seeded-random.ts';

/* Hours made by the laws themselves: a valve's loss answers the main by a power, a leak's by nothing; errors as stated. */
const SLOPES = [-0.3, -0.7, -1.5];
const ERROR = 0.003;

function hours(slope: number, mainSpread: number, shown: boolean) {
  const next = random(11);
  const normal = () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
  return Array.from({ length: 40 }, () => {
    const main = mainSpread * normal();
    const loss = slope * main + ERROR * normal();
    return {
      loss,
      lossError: ERROR,
      main: shown ? { log: main + 0.01 * normal(), error: 0.01 } : undefined,
    };
  });
}

describe('odds by how the loss goes with the main', () => {
  it.each([0.03, 0.08])('tell a valve from a leak where the main moves by %f and is shown', (spread) => {
    expect(oddsByMain(hours(-0.7, spread, true), SLOPES)).toBeGreaterThan(Math.log(20));
    expect(oddsByMain(hours(0, spread, true), SLOPES)).toBeLessThan(-2);
  });

  it('leave it open where the main is calm', () => {
    expect(Math.abs(oddsByMain(hours(-0.7, 0.0005, true), SLOPES))).toBeLessThan(Math.log(20));
    expect(Math.abs(oddsByMain(hours(0, 0.0005, true), SLOPES))).toBeLessThan(Math.log(20));
  });

  it('lean to the valve where the loss moves and nothing shows the main, but not for certain', () => {
    const odds = oddsByMain(hours(-0.7, 0.08, false), SLOPES);
    expect(odds).toBeGreaterThan(0);
    expect(odds).toBeLessThan(Math.log(20));
  });
});

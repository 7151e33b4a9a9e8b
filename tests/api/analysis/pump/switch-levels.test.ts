import { describe, expect, it } from 'vitest';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { switchLevels } from '../../../../api/analysis/pump/switch-levels.ts';
import { random } from './seeded-random.ts';

/* Saws by construction, a reading a second: cut-in, cut-out and what else moves the pressure are known. */
const HOUR_S = 3_600;
const NOISE_BAR = 0.005;

function levelsOf(hours: number, barAt: (s: number) => number) {
  const next = random(4);
  const timeMs = Float64Array.from({ length: hours * HOUR_S }, (_, s) => 1000 * s);
  const bar = timeMs.map((atMs) => barAt(atMs / 1000) + NOISE_BAR * 2 * (next() + next() + next() - 1.5));
  return switchLevels(pumpRows(timeMs, bar, 1, NOISE_BAR, 0)).map(({ levels }) => levels);
}

/** Falls over most of a period and rises over the last part of it. */
function saw(s: number, periodS: number, riseS: number, lowBar: number, highBar: number): number {
  const at = s % periodS;
  const falling = periodS - riseS;
  const part = at < falling ? 1 - at / falling : (at - falling) / riseS;
  return lowBar + part * (highBar - lowBar);
}

describe('the levels of a switch', () => {
  it('are those of the few large rises where gas that warms again makes many small ones', () => {
    const found = levelsOf(12, (s) => {
      const wide = saw(s, 2 * HOUR_S, 60, 1.5, 3.3);
      const warming = wide > 2.2 ? saw(s, 900, 40, 0, 0.25) : 0;
      return wide + warming;
    });
    for (const levels of found) {
      expect(levels!.cutInBar).toBeGreaterThan(1.4);
      expect(levels!.cutInBar).toBeLessThan(1.75);
    }
  });

  it('are those of the many small rises where the switch is set narrow for a part of the time', () => {
    const found = levelsOf(6, (s) => (s < HOUR_S ? saw(s, 300, 20, 2, 3.4) : saw(s, 30, 6, 2, 2.4)));
    expect(found[0]!.cutOutBar).toBeLessThan(2.6);
  });

  it('are kept while the pump doesn’t start and taps at the main’s pressure move the readings more often', () => {
    const fails = (s: number) => s >= 5 * HOUR_S && s < 9 * HOUR_S;
    const found = levelsOf(16, (s) => (fails(s) ? (s % 400 < 60 ? 0.5 : 0.7) : saw(s, 2_400, 40, 2.2, 4)));
    for (const levels of found) {
      expect(levels!.cutInBar).toBeGreaterThan(2.1);
      expect(levels!.cutInBar).toBeLessThan(2.4);
    }
  });

  it('are none before a booster was fitted, though it was fitted in the midst of a span', () => {
    const fittedS = 63 * HOUR_S;
    const found = levelsOf(96, (s) => (s < fittedS ? (s % 1_200 < 60 ? 1.2 : 1.42) : saw(s, 900, 20, 2.1, 3.7)));
    expect(found.slice(0, 6)).toEqual(found.slice(0, 6).map(() => null));
    expect(found.at(-1)!.cutInBar).toBeGreaterThan(1.9);
  });
});

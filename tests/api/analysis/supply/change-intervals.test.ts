import { describe, expect, it } from 'vitest';
import { drawnIndices } from '../../../../api/analysis/statistics/bootstrap.ts';
import { findLevelChanges } from '../../../../api/analysis/supply/level-changes.ts';

const MINUTES_A_DAY = 1440;

/** Ten days of minutes with a fall by 0.4 bar at a minute, days that differ by a few hundredths of a bar. */
function street(atMinute: number, seed: number) {
  const draw = drawnIndices(seed);
  const days = Array.from({ length: 10 }, () => 0.06 * (draw(1000) / 1000 - 0.5));
  const bar = Float64Array.from(
    { length: 10 * MINUTES_A_DAY },
    (_, j) => 3 + days[Math.floor(j / MINUTES_A_DAY)]! + 0.02 * (draw(1000) / 1000 - 0.5) - (j >= atMinute ? 0.4 : 0),
  );
  return {
    startMs: 0,
    stepMs: 60_000,
    bar,
    sdBar: new Float32Array(bar.length),
    interpolated: new Uint8Array(bar.length),
  };
}

describe('intervals of a lasting change', () => {
  it('hold its time and its size in nearly all houses, and are no wider than they need be', () => {
    let heldTime = 0;
    let heldSize = 0;
    for (let house = 0; house < 20; house++) {
      const atMinute = 5 * MINUTES_A_DAY + 37 * house;
      const [change] = findLevelChanges(street(atMinute, 1000 + house));
      const [from, to] = change!.timeIntervalMs;
      const [low, high] = change!.sizeIntervalBar;
      if (from <= atMinute * 60_000 && atMinute * 60_000 <= to) heldTime++;
      if (low < -0.4 && high > -0.4) heldSize++;
      expect(to - from).toBeLessThan(6 * 3_600_000);
      expect(high - low).toBeLessThan(0.12);
    }
    expect(heldTime).toBeGreaterThanOrEqual(19);
    expect(heldSize).toBeGreaterThanOrEqual(17);
  });

  it('reach over a hole in which the supply changed', () => {
    const standing = street(5 * MINUTES_A_DAY, 3);
    standing.bar.fill(Number.NaN, 5 * MINUTES_A_DAY - 200, 5 * MINUTES_A_DAY + 300);
    const [change] = findLevelChanges(standing);
    expect(change!.timeIntervalMs[0]).toBeLessThanOrEqual((5 * MINUTES_A_DAY - 200) * 60_000);
    expect(change!.timeIntervalMs[1]).toBeGreaterThanOrEqual((5 * MINUTES_A_DAY + 300) * 60_000);
  });
});

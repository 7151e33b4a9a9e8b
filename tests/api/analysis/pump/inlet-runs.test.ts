import { describe, expect, it } from 'vitest';
import { inletRuns } from '../../../../api/analysis/pump/inlet-runs.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { random } from './seeded-random.ts';

/* A main of 0.95 bar and what a pump does to it, second by second: labels by construction. */
const STANDING_BAR = 0.95;

function runsOf(barAt: (s: number) => number, seconds: number, noiseBar = 0.006): (readonly [number, number])[] {
  const next = random(3);
  const timeMs = Float64Array.from({ length: seconds }, (_, s) => 1000 * s);
  const bar = timeMs.map((ms) => barAt(ms / 1000) + noiseBar * 2 * (next() + next() + next() - 1.5));
  return inletRuns(pumpRows(timeMs, bar, 1, noiseBar, 0)).map(({ startMs, stopMs }) => [
    startMs / 1000,
    stopMs! / 1000,
  ]);
}

function expectRuns(
  found: readonly (readonly [number, number])[],
  truth: readonly (readonly [number, number])[],
): void {
  expect(found).toHaveLength(truth.length);
  truth.forEach(([start, stop], k) => {
    expect(Math.abs(found[k]![0] - start)).toBeLessThanOrEqual(3);
    expect(Math.abs(found[k]![1] - stop)).toBeLessThanOrEqual(5);
  });
}

/** A pump that runs while water flows: full at first, then little, then full again; from 300 s to 900 s. */
const steady = (closingS: number) => (s: number) => {
  if (s < 300 || s >= 900 + closingS) return STANDING_BAR;
  if (s < 320) return 0;
  if (s < 500) return 0.84;
  if (s < 520) return 0.2;
  return s < 900 ? 0.84 : 0.84 + ((STANDING_BAR - 0.84) * (s - 900)) / closingS;
};

describe('a pump’s run at its inlet', () => {
  it.each([1, 15])('is one until the inlet is back where it stood, a tap closing within %i s', (closingS) => {
    expectRuns(runsOf(steady(closingS), 1_500), [[300, 900 + closingS / 2]]);
  });

  it('is one of many where each comes back', () => {
    const each = (s: number) => (s % 200 >= 100 && s % 200 < 130 ? 0.3 : STANDING_BAR);
    const truth = Array.from({ length: 10 }, (_, k) => [100 + 200 * k, 130 + 200 * k] as const);
    expectRuns(runsOf(each, 2_000), truth);
  });

  it('isn’t joined to others where the street sinks meanwhile and rises by and by', () => {
    // 0.15 bar within ten minutes, and back: as steep as a street's busiest hour.
    const street = (s: number) => STANDING_BAR - 0.15 * Math.max(0, Math.min(1, (s - 300) / 600, (2_100 - s) / 600));
    const each = (s: number) => (s % 300 >= 290 ? street(s) - 0.4 : street(s));
    const truth = Array.from({ length: 9 }, (_, k) => [290 + 300 * k, 300 + 300 * k] as const);
    expectRuns(runsOf(each, 2_800), truth);
  });

  it('isn’t joined to one half an hour later, however a neighbour’s tap may close then', () => {
    const neighbour = (s: number) => (s >= 310 && s < 4_000 ? 0.1 : 0);
    const each = (s: number) => STANDING_BAR - neighbour(s) - (s % 600 >= 300 && s % 600 < 330 ? 0.6 : 0);
    const found = runsOf(each, 5_000);
    expect(found.length).toBeGreaterThanOrEqual(8);
  });
});

import { describe, expect, it } from 'vitest';
import { inletPullOf, runPulls } from '../../../../api/analysis/pump/inlet-pulls.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { weakInletByRun } from '../../../../api/analysis/pump/weak-inlet.ts';
import { random } from './seeded-random.ts';

/* A main of 0.9 bar, a run every two minutes that pulls it down to a given pressure: labels by construction. */
const LIMIT_BAR = 0.3;
const STANDING_BAR = 0.9;
const PERIOD_S = 120;
const RUNS = 60;

function inlet(plan: { runS: number; pulledBar: number; intervalS: number; noiseBar: number; quantumBar: number }) {
  const next = random(5);
  const count = Math.floor((RUNS * PERIOD_S) / plan.intervalS);
  const timeMs = Float64Array.from({ length: count }, (_, k) => 1000 * plan.intervalS * k);
  const bar = timeMs.map((atMs) => {
    const within = (atMs / 1000) % PERIOD_S;
    const running = within >= 60 && within < 60 + plan.runS;
    const noisy = (running ? plan.pulledBar : STANDING_BAR) + plan.noiseBar * 2 * (next() + next() + next() - 1.5);
    return plan.quantumBar > 0 ? Math.round(noisy / plan.quantumBar) * plan.quantumBar : noisy;
  });
  const noiseBar = Math.hypot(plan.noiseBar, plan.quantumBar / Math.sqrt(12));
  const rows = pumpRows(timeMs, bar, plan.intervalS, noiseBar, plan.quantumBar);
  const runs = Array.from({ length: RUNS }, (_, k) => ({
    startMs: 1000 * (PERIOD_S * k + 60),
    endMs: 1000 * (PERIOD_S * k + 60 + plan.runS),
  }));
  return weakInletByRun(rows, runs, LIMIT_BAR, runPulls(rows, runs)).flatMap((weak) => weak ?? []);
}

describe('a weak inlet', () => {
  it.each([
    { runS: 40, intervalS: 1, noiseBar: 0.003, quantumBar: 0 },
    { runS: 40, intervalS: 1, noiseBar: 0.03, quantumBar: 0 },
    { runS: 3, intervalS: 1, noiseBar: 0.03, quantumBar: 0 },
    { runS: 40, intervalS: 1, noiseBar: 0.01, quantumBar: 10 / 1024 },
    { runS: 40, intervalS: 1, noiseBar: 0.01, quantumBar: 0.04 },
    { runS: 40, intervalS: 10, noiseBar: 0.02, quantumBar: 10 / 1024 },
    { runS: 60, intervalS: 60, noiseBar: 0.01, quantumBar: 0 },
  ])('is found in every run of $runS s at $intervalS s, $noiseBar bar of noise, steps of $quantumBar bar', (plan) => {
    const weak = inlet({ ...plan, pulledBar: 0.1 });
    expect(weak).toHaveLength(RUNS);
    const off = 3 * Math.hypot(plan.noiseBar, plan.quantumBar / 2) + 0.005;
    for (const { minBar, pullBar } of weak) {
      expect(Math.abs(minBar - 0.1)).toBeLessThan(off);
      expect(Math.abs(pullBar! - (STANDING_BAR - 0.1))).toBeLessThan(off + plan.noiseBar);
    }
    expect(inlet({ ...plan, pulledBar: 0.45 })).toEqual([]);
  });

  it('is not made of one faulty reading in a long run, nor of noise about the limit', () => {
    const timeMs = Float64Array.from({ length: 200 }, (_, s) => 1000 * s);
    const bar = timeMs.map((_, s) => (s === 120 ? 0 : s >= 100 && s < 150 ? 0.6 : STANDING_BAR));
    const runs = [{ startMs: 100_000, endMs: 150_000 }];
    expect(weakInletByRun(pumpRows(timeMs, bar, 1, 0.01, 0), runs, LIMIT_BAR)).toEqual([undefined]);
  });
});

describe('how far a pump pulls its inlet', () => {
  // A street that falls by half a bar in an hour; the pump pulls 0.4 bar below it, for 50 minutes of that hour.
  const timeMs = Float64Array.from({ length: 7_200 }, (_, s) => 1_000 * s);
  const streetBar = (s: number) => 1.2 - (0.5 * Math.min(3_600, Math.max(0, s - 1_800))) / 3_600;
  const runs = [
    { startMs: 600_000, endMs: 630_000 },
    { startMs: 2_000_000, endMs: 5_000_000 },
  ];
  const bar = timeMs.map((ms, s) => streetBar(s) - (runs.some((run) => run.startMs <= ms && ms < run.endMs) ? 0.4 : 0));
  const pulls = runPulls(pumpRows(timeMs, bar, 1, 0.002, 0), runs);

  it('is told against the standing pressure at that moment, not that of before the run', () => {
    expect(pulls[0]!.pullBar).toBeCloseTo(0.4, 3);
    expect(Math.abs(pulls[1]!.pullBar - 0.4)).toBeLessThan(0.01);
    expect(pulls[1]!.standingAt(3_500_000)).toBeCloseTo(streetBar(3_500), 2);
  });

  it('has its figures by the local hour in which runs started', () => {
    const table = inletPullOf(pulls, runs, [false, true], 'Europe/London')!;
    expect(table).toMatchObject({ runs: 2, weakRuns: 1 });
    expect(table.worstPullBar).toBeCloseTo(0.4, 2);
    // 1 January 1970 at 00:10 UTC was 01:10 in London: British Standard Time.
    expect(table.hours.map(({ hour, runs: count, weakRuns }) => [hour, count, weakRuns])).toEqual([[1, 2, 1]]);
  });

  it('isn’t told where no standing pressure was seen near a run', () => {
    const all = [{ startMs: 0, endMs: 7_200_000 }];
    const [pull] = runPulls(pumpRows(timeMs, bar, 1, 0.002, 0), all);
    expect(pull!.pullBar).toBeNaN();
    expect(inletPullOf([pull!], all, [false], 'UTC')).not.toHaveProperty('medianPullBar');
  });
});

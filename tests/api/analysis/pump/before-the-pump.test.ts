import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import type { AnalysisSite } from '../../../../api/analysis/findings.ts';
import { DEFAULT_THRESHOLDS } from '../../../../collector/model/site.ts';
import { random } from './seeded-random.ts';

/* Logs made row by row: labels by construction, a little noise of the sensor. */
const START_MS = Date.UTC(2026, 4, 4);
const PERIOD_S = 700;
const RUN_S = 20;

function site(position: 'pump_inlet' | 'pump_outlet', hasFlowMeter = false): AnalysisSite {
  return {
    timeZone: 'UTC',
    sensor: { position, rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
    hasFlowMeter,
    thresholds: DEFAULT_THRESHOLDS,
  };
}

function column(rows: number, intervalS: number, of: (second: number) => number, noiseBar = 0.004) {
  const next = random(7);
  const timeMs = Float64Array.from({ length: rows }, (_, k) => START_MS + 1_000 * intervalS * k);
  const bar = timeMs.map((_, k) => of(k * intervalS) + noiseBar * 2 * (next() + next() + next() - 1.5));
  return { timeMs, bar: bar.map((value) => Math.round(value * 1_000) / 1_000) };
}

/** The log begins in a rest. */
const PHASE_S = 300;
const within = (second: number) => (second + PHASE_S) % PERIOD_S;
const runs = (second: number) => within(second) < RUN_S;
/** Behind the pump: a saw between 2 and 3.2 bar. */
const saw = (second: number) =>
  runs(second) ? 2 + 0.06 * within(second) : 3.2 - (1.2 * (within(second) - RUN_S)) / (PERIOD_S - RUN_S);
const onColumn = (timeMs: Float64Array, on: (second: number) => boolean) =>
  timeMs.map((ms) => (on((ms - START_MS) / 1_000) ? 1 : 0));

describe('a pump that sucks at its main', () => {
  it.each([-0.05, -0.15, -0.4, -0.9])(
    'down to %f bar is told in every run, from a column before it and at it',
    (low) => {
      const { timeMs, bar } = column(20_000, 1, (s) => (runs(s) ? low : 0.9));
      const pumpOn = onColumn(timeMs, runs);
      const behind = timeMs.map((_, s) => saw(s));
      const beside = analyse({ timeMs, pressureBar: behind, pumpOn, inletBar: bar }, site('pump_outlet'));
      const before = analyse({ timeMs, pressureBar: bar, pumpOn }, site('pump_inlet'));
      const bare = analyse({ timeMs, pressureBar: bar }, site('pump_inlet'));
      const seen = Math.floor((20_000 - 1 + PHASE_S) / PERIOD_S);
      for (const found of [beside, before, bare]) {
        expect(found.faults).toEqual([]);
        expect(found.lowSupply).toEqual([]);
        expect(found.weakInlet).toHaveLength(seen);
        for (const { minBar, pullBar, atRangeEnd } of found.weakInlet) {
          expect(Math.abs(minBar - low)).toBeLessThan(0.03);
          expect(Math.abs(pullBar! - (0.9 - low))).toBeLessThan(0.03);
          expect(atRangeEnd).toBe(true);
        }
        expect(found.inletPull).toMatchObject({ runs: seen, weakRuns: seen });
        expect(found.evidence.statements.some(({ text }) => /at or below the sensor’s range/.test(text))).toBe(true);
      }
    },
  );

  it('is not made of a broken wire: below a vacuum, or below the range while no pump runs', () => {
    const { timeMs, bar } = column(20_000, 1, (s) =>
      s >= 5_000 && s < 5_200 ? -1.25 : s >= 9_000 && s < 9_200 ? -0.5 : 0.9,
    );
    const found = analyse({ timeMs, pressureBar: bar, pumpOn: onColumn(timeMs, () => false) }, site('pump_inlet'));
    expect(found.weakInlet).toEqual([]);
    expect(found.faults.map(({ kind, count }) => [kind, count])).toEqual([
      ['out_of_range', 200],
      ['out_of_range', 200],
    ]);
    expect(found.lowSupply).toEqual([]);
  });
});

describe('standing pressure before a pump', () => {
  it('is not that of a run in which the inlet has half recovered', () => {
    // A run every minute, its vessel filling meanwhile: 0.1, 0.3, then 0.55 bar, before the 0.85 bar of the street.
    const pulled = [0.1, 0.3, 0.55, 0.85, 0.85, 0.85];
    const busy = (s: number) => s >= 7_200 && s < 7_800;
    const { timeMs, bar } = column(2_160, 10, (s) => (busy(s) ? pulled[(s / 10) % 6]! : 0.85), 0.03);
    const found = analyse({ timeMs, pressureBar: bar }, { ...site('pump_inlet'), intervalS: 10 });
    expect(found.lowSupply).toEqual([]);
    const known = found.standing!.bar.filter((value) => value !== null);
    expect(Math.min(...known)).toBeGreaterThan(0.75);
  });

  it('is sure where it is read directly, however the pump pulls, so that low supply isn’t cut short', () => {
    // Two hours at 0.6 bar; the pump pulls 0.4 bar for 20 s now and then, the draws' edges far apart.
    const low = (s: number) => s >= 10_000 && s < 17_200;
    const pull = (s: number) => (s % 1_300 < 20 ? 0.4 : 0);
    const street = (s: number) => 0.85 - (low(s) ? 0.25 * Math.min(1, (s - 10_000) / 600, (17_200 - s) / 600) : 0);
    const { timeMs, bar } = column(28_800, 1, (s) => street(s) - pull(s), 0.005);
    const found = analyse({ timeMs, pressureBar: bar }, site('pump_inlet'));
    expect(found.lowSupply).toHaveLength(1);
    const [period] = found.lowSupply;
    const minutes = (Date.parse(period!.end) - Date.parse(period!.start)) / 60_000;
    // Below 0.7 bar from 360 s after the fall begins to 360 s before the rise ends.
    expect(Math.abs(minutes - (7_200 - 720) / 60)).toBeLessThan(2);
    expect(Math.max(...found.standing!.sdBar.map((sd) => sd ?? 1))).toBeLessThan(0.05);
  });

  it('is not told by a flow meter of the household, whose water comes from the vessel as well', () => {
    const on = (s: number) => s % 600 < 90;
    const { timeMs, bar } = column(14_400, 1, (s) => (on(s) ? 0.45 : 0.85));
    const flowLpm = timeMs.map((_, s) => (s % 600 < 80 ? 9 : 0));
    const found = analyse(
      { timeMs, pressureBar: bar, flowLpm, pumpOn: onColumn(timeMs, on) },
      site('pump_inlet', true),
    );
    expect(found.lowSupply).toEqual([]);
  });
});

describe('a pump whose start or stop isn’t seen', () => {
  const always = () => true;

  it('made no low supply, and its weak inlet and that it never stopped are told', () => {
    const { timeMs, bar } = column(40_000, 1, () => 0.2);
    const found = analyse({ timeMs, pressureBar: bar, pumpOn: onColumn(timeMs, always) }, site('pump_inlet'));
    expect(found.pumpStarts).toEqual([]);
    expect(found.lowSupply).toEqual([]);
    expect(found.weakInlet).toMatchObject([{ start: found.series.start, end: found.series.end }]);
    expect(found.pumpStates).toMatchObject([
      { kind: 'did_not_stop', start: found.series.start, end: found.series.end },
    ]);
    expect(found.evidence.statements.find(({ text }) => /0\.70 bar/.test(text))?.certainty).toBe('unknown');
  });

  it('did not stop behind it either', () => {
    const { timeMs, bar } = column(40_000, 1, () => 3);
    const found = analyse({ timeMs, pressureBar: bar, pumpOn: onColumn(timeMs, always) }, site('pump_outlet'));
    expect(found.pumpStarts).toEqual([]);
    expect(found.pumpStates).toMatchObject([{ kind: 'did_not_stop', start: found.series.start }]);
  });

  it('is judged though the log ends within a run', () => {
    const from = 20 * PERIOD_S - PHASE_S;
    const on = (s: number) => runs(s) || s >= from;
    const { timeMs, bar } = column(from + 3_600, 1, (s) => (s >= from + RUN_S ? 3.18 : saw(s)));
    const found = analyse({ timeMs, pressureBar: bar, pumpOn: onColumn(timeMs, on) }, site('pump_outlet'));
    expect(found.pumpStates).toMatchObject([{ kind: 'did_not_stop', end: found.series.end }]);
  });

  it('is weak after a gap too', () => {
    const { timeMs, bar } = column(7_200, 1, (s) => (s >= 3_600 && s < 3_700 ? 0.1 : 0.9));
    const kept = timeMs.map((ms) => (ms - START_MS < 3_300_000 || ms - START_MS >= 3_630_000 ? 1 : 0));
    const rows = (values: Float64Array) => values.filter((_, k) => kept[k] === 1);
    const pumpOn = onColumn(timeMs, (s) => s >= 3_600 && s < 3_700);
    const found = analyse({ timeMs: rows(timeMs), pressureBar: rows(bar), pumpOn: rows(pumpOn) }, site('pump_inlet'));
    expect(found.pumpStarts).toEqual([]);
    expect(found.lowSupply).toEqual([]);
    expect(found.weakInlet).toHaveLength(1);
  });

  it('did not start where the pressure behind it lies at a third of what it held, and its channel says off', () => {
    const { timeMs, bar } = column(40_000, 1, (s) => (s < 20_000 ? 3 : 1));
    const found = analyse({ timeMs, pressureBar: bar, pumpOn: onColumn(timeMs, () => false) }, site('pump_outlet'));
    expect(found.pumpStates).toMatchObject([{ kind: 'did_not_start' }]);
    expect(Math.abs(Date.parse(found.pumpStates![0]!.start) - START_MS - 20_000_000)).toBeLessThan(5_000);
  });
});

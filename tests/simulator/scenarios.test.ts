import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { csvPieces } from '../../simulator/csv-file.ts';
import { runScenario, type ScenarioRun } from '../../simulator/run-scenario.ts';
import { drawScenario, SCENARIO_NAMES } from '../../simulator/scenarios.ts';

interface Truth {
  series: { start: string; end: string; samples: number };
  standing?: { stepS: number; bar: number[] };
  draws: { start: string; end: string; dropBar: number; optional?: boolean }[];
  sags: { day: string; window: string; state: string; depthBar?: number }[];
  lowSupply: { start: string; end: string; minBar: number; certainty: string }[];
  pumpStarts: { start: string; onDemand: boolean }[];
  cycling: { kind: string; causes: string[] }[];
  weakInlet: unknown[];
  faults: { kind: string; start: string; end: string }[];
  changes: { kind: string; fromBar: number; toBar: number }[];
  coverage: { expected: number; received: number };
}
const truthOf = (run: ScenarioRun): Truth => run.truth as unknown as Truth;
const run = (name: string, days = 3, seed = 5): ScenarioRun => runScenario(drawScenario(name, { days, seed }));
const csv = (one: ScenarioRun): string => [...csvPieces(one.rows)].join('');
const present = (truth: Truth, window: string): number =>
  truth.sags.filter((sag) => sag.window === window && sag.state === 'present').length;

describe('every scenario', () => {
  it.each(SCENARIO_NAMES)('%s: labels lie in the series and are what their definitions ask', (name) => {
    const one = run(name, 1);
    const truth = truthOf(one);
    const { startMs, endMs } = one.scenario;
    expect(truth.coverage.expected).toBe((endMs - startMs) / (one.scenario.intervalS * 1000));
    for (const span of [...truth.draws, ...truth.lowSupply]) {
      expect(Date.parse(span.start)).toBeGreaterThanOrEqual(startMs);
      expect(Date.parse(span.end)).toBeLessThanOrEqual(endMs);
      expect(Date.parse(span.end)).toBeGreaterThan(Date.parse(span.start));
    }
    for (const draw of truth.draws.filter((one) => !one.optional)) expect(draw.dropBar).toBeGreaterThanOrEqual(0.0299);
    for (const low of truth.lowSupply) {
      expect(Date.parse(low.end) - Date.parse(low.start)).toBeGreaterThanOrEqual(60_000);
      expect(low.minBar).toBeLessThan(0.7);
    }
    for (const sag of truth.sags) {
      if (sag.state === 'present') expect(sag.depthBar).toBeGreaterThanOrEqual(0.2999);
      if (sag.state === 'absent') expect(sag.depthBar).toBeLessThan(0.3001);
    }
    if (one.scenario.position === 'pump_outlet') expect(truth.standing).toBeUndefined();
    else expect(truth.standing!.bar).toHaveLength((endMs - startMs) / 60_000);
    expect(one.rows.pressureBar.every((bar) => Number.isFinite(bar))).toBe(true);
    expect((one.site as { timeZone: string }).timeZone).toBe(one.scenario.timeZone);
  });

  it('the same seed makes the same bytes, another seed others', () => {
    const digest = (one: ScenarioRun): string =>
      createHash('sha256').update(csv(one)).update(JSON.stringify(one.truth)).digest('hex');
    for (const name of ['faults', 'booster-leak', 'shared-pipe-with-flow']) {
      expect(digest(run(name, 1))).toBe(digest(run(name, 1)));
      expect(digest(run(name, 1, 6))).not.toBe(digest(run(name, 1)));
    }
  });
});

describe('scenarios hold what their names say, over seeds', () => {
  const SEEDS = [1, 2];
  it('a good supply has no sag and no low period; a busy family neither, however much it draws', () => {
    for (const seed of SEEDS) {
      const good = truthOf(run('good-supply', 3, seed));
      const busy = truthOf(run('busy-family', 3, seed));
      for (const truth of [good, busy]) {
        expect(present(truth, 'morning') + present(truth, 'evening')).toBe(0);
        expect(truth.lowSupply).toEqual([]);
      }
      expect(busy.draws.length).toBeGreaterThan(good.draws.length);
    }
  });

  it('weekday mornings sag on weekdays only', () => {
    for (const seed of SEEDS) {
      const truth = truthOf(run('weekday-morning-sag', 7, seed));
      for (const sag of truth.sags.filter((one) => one.window === 'morning')) {
        const weekday = new Date(`${sag.day}T12:00:00Z`).getUTCDay();
        expect(sag.state).toBe(weekday === 0 || weekday === 6 ? 'absent' : 'present');
      }
    }
  });

  it('certain low supply is certain', () => {
    for (const seed of SEEDS) {
      const truth = truthOf(run('low-supply-certain', 7, seed));
      expect(truth.lowSupply.filter((low) => low.certainty === 'certain').length).toBeGreaterThanOrEqual(5);
    }
  });

  it.each([
    ['booster-leak', 'no_demand', 'leak'],
    ['booster-check-valve', 'no_demand', 'check_valve'],
    ['booster-lost-precharge', 'rapid_on_demand', 'lost_precharge'],
    ['booster-narrow', 'rapid_on_demand', 'narrow_differential'],
  ])('%s cycles %s because of %s', (name, kind, cause) => {
    for (const seed of SEEDS) {
      const truth = truthOf(run(name, 4, seed));
      const ofKind = truth.cycling.filter((episode) => episode.kind === kind);
      expect(ofKind.length).toBeGreaterThan(0);
      for (const episode of ofKind) expect(episode.causes).toEqual([cause]);
    }
  });

  it('a sound booster starts on demand only and never cycles', () => {
    for (const seed of SEEDS) {
      const truth = truthOf(run('booster-normal', 3, seed));
      expect(truth.pumpStarts.length).toBeGreaterThan(10);
      expect(truth.pumpStarts.every((start) => start.onDemand)).toBe(true);
      expect(truth.cycling).toEqual([]);
    }
  });

  it.each([
    ['supply-change', 'supply'],
    ['stop-tap-half-shut', 'property'],
    ['booster-fitted', 'booster'],
    ['offset-step', 'sensor'],
  ])('%s holds one change, of the kind %s', (name, kind) => {
    const truth = truthOf(run(name, 8, 2));
    expect(truth.changes.map((change) => change.kind)).toEqual([kind]);
    expect(Math.abs(truth.changes[0]!.toBar - truth.changes[0]!.fromBar)).toBeGreaterThan(0.05);
    // Three days on each side are asked for: a shorter record has no lasting change to find.
    if (kind === 'supply') expect(truthOf(run(name, 3, 2)).changes).toEqual([]);
  });

  it('a half-shut stop tap leaves the standing pressure as it was', () => {
    const one = run('stop-tap-half-shut', 8, 2);
    const at = Math.round((one.scenario.changes[0]!.atMs - one.scenario.startMs) / 1000);
    const mean = (from: number, to: number): number =>
      one.columns.standingBar.slice(from, to).reduce((a, b) => a + b, 0) / (to - from);
    expect(Math.abs(mean(0, at) - mean(at, one.columns.standingBar.length))).toBeLessThan(0.06);
  });

  it('faults of every kind are planted and labelled', () => {
    const kinds = new Set(truthOf(run('faults', 10, 3)).faults.map((fault) => fault.kind));
    expect([...kinds].sort()).toEqual(['clock_jump', 'duplicate', 'gap', 'late', 'out_of_range', 'spike', 'stuck']);
  });

  it('a neighbour makes falls that are not the household’s', () => {
    const one = run('shared-pipe-with-flow', 2, 4);
    const { standingBar, ownLpm } = one.columns;
    let sharp = 0;
    for (let i = 3; i < standingBar.length; i++) {
      if (ownLpm[i] === 0 && standingBar[i - 3]! - standingBar[i]! > 0.03) sharp++;
    }
    expect(sharp).toBeGreaterThan(3);
  });
});

describe('calendar', () => {
  // A week with the last Sunday of March has 167 hours, one with that of October 169 (Directive 2000/84/EC).
  it.each([
    ['spring-clock-change', 167],
    ['autumn-clock-change', 169],
  ])('%s: a week of %i hours, from local midnight to local midnight', (name, hours) => {
    const one = runScenario(drawScenario(name, { days: 7, seed: 1 }));
    expect(one.rows.timeMs).toHaveLength(hours * 3600);
    expect(truthOf(one).sags).toHaveLength(14);
    expect(truthOf(one).sags.every((sag) => sag.state !== 'unknown')).toBe(true);
  });
});

describe('file', () => {
  it.each([
    ['good-supply', 'time,pressure_bar'],
    ['with-flow-meter', 'time,pressure_bar,flow_lpm'],
    ['booster-at-inlet', 'time,pressure_bar,pump_on'],
    ['booster-weak-inlet', 'time,pressure_bar,pump_on,inlet_bar'],
  ])('%s has the header %s and as many cells in each row', (name, header) => {
    const lines = csv(run(name, 1)).split('\n');
    expect(lines[0]).toBe(header);
    expect(lines.at(-1)).toBe('');
    const cells = header.split(',').length;
    for (const line of lines.slice(1, -1).filter((_, i) => i % 977 === 0)) {
      expect(line.split(',')).toHaveLength(cells);
      expect(line).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ(,-?\d+(\.\d+)?)+$/);
    }
  });

  it('writes the time of each row as the calendar does, with milliseconds where there are any', () => {
    const one = run('arrival-stamps', 1);
    const lines = csv(one).split('\n');
    for (let i = 0; i < one.rows.timeMs.length; i += 997) {
      const stamp = lines[i + 1]!.split(',')[0]!;
      expect(new Date(stamp).getTime()).toBe(one.rows.timeMs[i]);
    }
  });

  it('logs at the interval asked for; flow is the mean over the interval that ends there', () => {
    const fine = run('with-flow-meter', 1);
    const coarse = runScenario(drawScenario('with-flow-meter', { days: 1, seed: 5, intervalS: 10 }));
    expect(coarse.rows.timeMs).toHaveLength(8640);
    for (let row = 1; row < 8640; row += 13) {
      const seconds = fine.rows.flowLpm!.slice(row * 10 - 9, row * 10 + 1);
      expect(coarse.rows.flowLpm![row]).toBeCloseTo(seconds.reduce((a, b) => a + b, 0) / 10, 9);
      expect(coarse.columns.pressureBar[row * 10]).toBe(fine.columns.pressureBar[row * 10]);
    }
  });
});

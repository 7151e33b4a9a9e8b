import { describe, expect, it } from 'vitest';
import type { PumpState } from '../../../../api/analysis/findings.ts';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { parseSite } from '../../../../api/command-line/site-file.ts';
import { runScenario, type ScenarioRun } from '../../../../simulator/run-scenario.ts';
import { drawScenario } from '../../../../simulator/scenarios.ts';

interface Label {
  readonly kind: string;
  readonly start: string;
  readonly end: string;
}

/** Labels say what the built-in failure made of the true pressure; the simulator shares nothing with the analysis. */
const labelsOf = (run: ScenarioRun): Label[] => (run.truth as { pumpStates: Label[] }).pumpStates;
const overlaps = (a: Label | PumpState, b: Label | PumpState): boolean => a.start < b.end && a.end > b.start;

function found(name: string, days: number, seed: number) {
  const run = runScenario(drawScenario(name, { days, seed, intervalS: 1 }));
  const { noiseBar, stepBar } = run.scenario.sensor;
  const site = parseSite(JSON.stringify(run.site));
  const result = findPump({ ...run.rows, site, intervalS: 1, noiseBar, quantumBar: stepBar });
  return { run, result };
}

describe('the simulator’s failing boosters', () => {
  it.each([
    ['booster-dry-run', 'no_rise'],
    ['booster-does-not-start', 'did_not_start'],
    ['booster-does-not-stop', 'did_not_stop'],
    ['booster-outside-hours', 'outside_hours'],
  ])('%s: every labelled %s is told, and nothing else of that kind', (name, kind) => {
    let labelled = 0;
    let told = 0;
    for (const seed of [21, 22]) {
      const { run, result } = found(name, 3, seed);
      const labels = labelsOf(run).filter((label) => label.kind === kind);
      const states = result.states.filter((state) => state.kind === kind);
      labelled += labels.length;
      told += labels.filter((label) => states.some((state) => overlaps(label, state))).length;
      for (const state of states) {
        expect(
          labels.some((label) => overlaps(label, state)),
          `${state.start} ${state.reason}`,
        ).toBe(true);
      }
    }
    expect(labelled).toBeGreaterThan(0);
    expect(told / labelled, `${told} of ${labelled}`).toBeGreaterThanOrEqual(0.9);
  });

  it('booster-slow-wear: the filling slows, by about what was built in; a sound one’s doesn’t', () => {
    const { run, result } = found('booster-slow-wear', 18, 23);
    const [first, last] = [run.scenario.house.booster[0]!.plan, run.scenario.house.booster.at(-1)!.plan];
    const builtIn = 30 * (1 - (last.runOutLpm / first.runOutLpm) ** (1 / (run.scenario.house.booster.length - 1)));
    const filling = result.trends.find(({ figure }) => figure === 'filling');
    expect(filling, JSON.stringify(result.trends)).toBeDefined();
    // The service pipe takes its part of the loss, so the filling slows by somewhat less than the pump's own flow.
    expect(-filling!.perMonth / builtIn).toBeGreaterThan(0.5);
    expect(-filling!.perMonth / builtIn).toBeLessThan(1.5);
    expect(found('booster-normal', 15, 24).result.trends).toEqual([]);
  });

  it('booster-fitted and booster-weak-inlet: the change and the weak runs are told as labelled', () => {
    const fitted = found('booster-fitted', 8, 25);
    const [change] = fitted.result.changes;
    const label = (fitted.run.truth as { changes: { at: string }[] }).changes[0]!;
    expect(Math.abs(Date.parse(change!.at) - Date.parse(label.at))).toBeLessThan(60_000);
    const weak = found('booster-weak-inlet', 2, 26);
    const labels = (weak.run.truth as { weakInlet: (Label & { minBar: number })[] }).weakInlet;
    const clear = labels.filter(({ minBar }) => minBar < 0.27);
    const seen = clear.filter((one) => weak.result.weakInlet.some((spell) => overlaps(one, { ...spell, kind: '' })));
    expect(clear.length).toBeGreaterThan(0);
    expect(seen.length / clear.length).toBeGreaterThanOrEqual(0.98);
  });
});

import { describe, expect, it } from 'vitest';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { runScenario } from '../../../../simulator/run-scenario.ts';
import { drawScenario } from '../../../../simulator/scenarios.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

const TOLERANCE_MS = 3_000;

/*
 * The simulator's boosters, drawn from the seed and labelled by the simulator: plants the analysis wasn't shaped on.
 * Pressure alone, 1 s.
 */
describe('the simulator’s boosters', () => {
  it.each([
    ['booster-normal', undefined],
    ['booster-leak', 'leak'],
    ['booster-check-valve', 'check_valve'],
    ['booster-lost-precharge', 'lost_precharge'],
    ['booster-narrow', 'narrow_differential'],
  ] as const)('%s: starts, demand and the first cause', (name, cause) => {
    let truly = 0;
    let matched = 0;
    let claimed = 0;
    let rightDemand = 0;
    let named = 0;
    let episodes = 0;
    for (const seed of [11, 12]) {
      const scenario = drawScenario(name, { days: 2, seed, intervalS: 1 });
      const run = runScenario({ ...scenario, faults: [], stampJitterMs: 0 });
      const { pumpStarts, cycling } = findPump({
        timeMs: run.rows.timeMs,
        pressureBar: run.rows.pressureBar,
        site: OUTLET_SITE,
        intervalS: 1,
        noiseBar: scenario.sensor.noiseBar,
        quantumBar: scenario.sensor.stepBar,
      });
      truly += run.columns.pumpRuns.length;
      claimed += pumpStarts.length;
      let k = 0;
      for (const { startMs, onDemand } of run.columns.pumpRuns) {
        while (k < pumpStarts.length && Date.parse(pumpStarts[k]!.start) < startMs - TOLERANCE_MS) k++;
        const start = pumpStarts[k];
        if (!start || Date.parse(start.start) > startMs + TOLERANCE_MS) continue;
        k++;
        matched++;
        if (start.onDemand === onDemand) rightDemand++;
      }
      episodes += cycling.length;
      named += cycling.filter(({ causes }) => causes[0] === cause).length;
    }
    const figures = `${matched} of ${truly} starts, ${claimed} claimed, demand ${rightDemand}, cause ${named} of ${episodes}`;
    expect(matched / truly, figures).toBeGreaterThanOrEqual(0.97);
    expect(matched / claimed, figures).toBeGreaterThanOrEqual(0.98);
    expect(rightDemand / matched, figures).toBeGreaterThanOrEqual(0.96);
    if (cause === undefined) expect(episodes, figures).toBe(0);
    else expect(named / episodes, figures).toBeGreaterThanOrEqual(0.85);
  });
});

import { analyse } from '../../api/analysis/analyse.ts';
import type { AnalysisSite, FindingsDocument } from '../../api/analysis/findings.ts';
import { runScenario } from '../../simulator/run-scenario.ts';
import { drawScenario } from '../../simulator/scenarios.ts';
import { type Labels, type Measured, measureFindings } from './measure-findings.ts';

export interface LabelledRun {
  readonly found: FindingsDocument;
  readonly labels: Labels;
  readonly measured: Measured;
  readonly elapsedMs: number;
}

/** Simulates a named scenario, analyses what its logger sent and measures the findings against the labels. */
export function runLabelled(name: string, seed: number, days: number): LabelledRun {
  const run = runScenario(drawScenario(name, { seed, days }));
  const site = { ...run.site, hasFlowMeter: Reflect.get(run.site, 'flowMeter') !== null } as unknown as AnalysisSite;
  const labels = run.truth as unknown as Labels;
  const before = performance.now();
  const found = analyse(run.rows, site);
  const elapsedMs = performance.now() - before;
  return { found, labels, measured: measureFindings(found, labels, run.scenario.intervalS), elapsedMs };
}

import { describe, expect, it } from 'vitest';
import { analyse, analyseOnce, watchOf } from '../../../api/analysis/analyse.ts';
import { beginAnalysis, findingsAsOfNow, stepAnalysis } from '../../../api/analysis/analysis-watch.ts';
import type { AnalysisColumns, AnalysisSite, FindingsDocument } from '../../../api/analysis/findings.ts';
import { runScenario } from '../../../simulator/run-scenario.ts';
import { drawScenario, SCENARIO_NAMES } from '../../../simulator/scenarios.ts';
import { FAMILIES } from '../../labelled/other-street/families.ts';
import { labelledLog } from '../../labelled/other-street/labelled-log.ts';
import { random } from './pump/seeded-random.ts';

/*
 * A live watch has the parameters of the last full analysis; under the same ones it must find what the batch finds,
 * however the rows are cut as they arrive, and however often somebody asked on the way.
 */
const SEED = 1;
const DAYS = 3;

function part(columns: AnalysisColumns, from: number, to: number): AnalysisColumns {
  const cut = (column: Float64Array | undefined) => column?.slice(from, to);
  return {
    timeMs: columns.timeMs.slice(from, to),
    pressureBar: columns.pressureBar.slice(from, to),
    flowLpm: cut(columns.flowLpm),
    pumpOn: cut(columns.pumpOn),
    inletBar: cut(columns.inletBar),
  };
}

/** The findings at some moment on the way, the rows there were by then, and the findings at the end. */
function live(columns: AnalysisColumns, site: AnalysisSite, chunkRows: () => number, askAt: number) {
  const { parameters } = watchOf(columns, site);
  const watch = beginAnalysis(site, parameters);
  const rows = columns.timeMs.length;
  let onTheWay: { rows: number; found: FindingsDocument } | undefined;
  for (let from = 0; from < rows; ) {
    const to = Math.min(rows, from + chunkRows());
    stepAnalysis(watch, part(columns, from, to));
    if (!onTheWay && to >= askAt * rows) onTheWay = { rows: to, found: findingsAsOfNow(watch) };
    from = to;
  }
  const readAtOnce = (upTo: number): FindingsDocument => {
    const whole = beginAnalysis(site, parameters);
    stepAnalysis(whole, part(columns, 0, upTo));
    return findingsAsOfNow(whole);
  };
  return { found: findingsAsOfNow(watch), onTheWay, atOnce: onTheWay && readAtOnce(onTheWay.rows) };
}

function expectEqual(columns: AnalysisColumns, site: AnalysisSite, seed: number): void {
  const next = random(seed);
  const chunkRows = () => 1 + Math.floor(20_000 * next() ** 6);
  const { found, onTheWay, atOnce } = live(columns, site, chunkRows, 0.3 + 0.6 * next());
  // As text, which is what is kept and served; a difference of two long objects takes minutes to print.
  expect(JSON.stringify(found) === JSON.stringify(analyse(columns, site))).toBe(true);
  expect(JSON.stringify(onTheWay?.found) === JSON.stringify(atOnce)).toBe(true);
}

describe('rows that arrive give what a log read at once gives', () => {
  it.each(SCENARIO_NAMES)('in the scenario %s', (name) => {
    const run = runScenario(drawScenario(name, { seed: SEED, days: DAYS }));
    const site = { ...run.site, hasFlowMeter: Reflect.get(run.site, 'flowMeter') !== null } as unknown as AnalysisSite;
    expectEqual(run.rows, site, SEED);
  });

  it.each(Object.keys(FAMILIES))('on the other street, %s', (family) => {
    const log = labelledLog(family, SEED);
    const rows = Math.min(log.rows.timeMs.length, Math.ceil((DAYS * 86_400) / log.intervalS));
    expectEqual(part(log.rows, 0, rows), log.site, SEED);
  });

  it.each(['transport', 'sensor-faults', 'coarse-quiet'])('also where they may be overwritten, %s', (family) => {
    const { rows, site } = labelledLog(family, 2);
    const some = part(rows, 0, Math.min(rows.timeMs.length, 200_000));
    const found = JSON.stringify(analyse(some, site));
    expect(JSON.stringify(analyseOnce(some, site)) === found).toBe(true);
  });

  it.each([
    ['back for hours', 6000, 7500, -1800],
    ['ahead for hours', 6000, 7500, 1800],
    ['where it began to count, at the start', 0, 60, -9000 * 86_400],
    ['where it began to count', 6000, 6060, -9000 * 86_400],
  ])('under a clock that stood %s, which settled rows must give way to', (_, from, to, byS) => {
    const { rows, site } = labelledLog('ten-seconds', 2);
    const some = part(rows, 0, 20_000);
    const timeMs = some.timeMs.map((at, row) => (row >= from && row < to ? at + 1000 * byS : at));
    const found = analyse({ ...some, timeMs }, site);
    expect(found.faults.filter((fault) => fault.kind === 'clock_jump')).toHaveLength(1);
    expect(found.coverage.received).toBe(20_000 - (to - from));
    expectEqual({ ...some, timeMs }, site, SEED);
  });

  it('row by row', () => {
    const { rows, site } = labelledLog('transport', 2);
    const some = part(rows, 0, 30_000);
    expect(live(some, site, () => 1, 0.5).found).toEqual(analyse(some, site));
  });
});

import { describe, expect, it } from 'vitest';
import { analyse, watchOf } from '../../../../api/analysis/analyse.ts';
import { beginAnalysis, findingsAsOfNow, stepAnalysis } from '../../../../api/analysis/analysis-watch.ts';
import type { AnalysisColumns } from '../../../../api/analysis/findings.ts';
import { runRig } from '../../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../../labelled/pump/rig-random.ts';
import { columnsOf, siteOf } from '../../../labelled/pump/rig-ruler.ts';
import { random } from './seeded-random.ts';

/*
 * A live watch remembers what it told of long ago. Under the parameters of the last full analysis it must still find what
 * the log read at once gives, however often it was asked on the way.
 */
const SEED = 7;
const DAYS = 1.25;
const ASKED = 2;

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

/** A day and a quarter of a family, with a gap of ten minutes and readings that can't be. */
function logOf(family: (typeof RIG_FAMILIES)[number]) {
  const scenario = rigScenario({ ...family, days: DAYS }, SEED);
  const whole = columnsOf(scenario, runRig(scenario.house, new RigRandom(SEED)));
  const cut = Math.floor(0.6 * whole.timeMs.length);
  const columns = {
    ...whole,
    timeMs: whole.timeMs.map((atMs, row) => (row < cut ? atMs : atMs + 600_000)),
    pressureBar: whole.pressureBar.map((bar, row) => (row === 100 || row === cut + 5 ? 99 : bar)),
  };
  return { columns, site: siteOf(scenario) };
}

describe('findings of a pump’s log that grows', () => {
  it.each(RIG_FAMILIES)('are on $name those of the log read at once, whenever somebody asks', (family) => {
    const { columns, site } = logOf(family);
    const { parameters } = watchOf(columns, site);
    const watch = beginAnalysis(site, parameters);
    const next = random(SEED);
    const rows = columns.timeMs.length;
    let asked = 0;
    for (let from = 0; from < rows; ) {
      const to = Math.min(rows, from + 1 + Math.floor(rows * 0.1 * next() ** 4));
      stepAnalysis(watch, part(columns, from, to));
      from = to;
      if (from < ((asked + 1) * rows) / (ASKED + 1)) continue;
      asked++;
      const whole = beginAnalysis(site, parameters);
      stepAnalysis(whole, part(columns, 0, to));
      // As text, which is what is kept and served; a difference of two long objects takes minutes to print.
      expect(JSON.stringify(findingsAsOfNow(watch)) === JSON.stringify(findingsAsOfNow(whole))).toBe(true);
    }
    expect(JSON.stringify(findingsAsOfNow(watch)) === JSON.stringify(analyse(columns, site))).toBe(true);
  });
});

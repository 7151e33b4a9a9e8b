import { describe, expect, it } from 'vitest';
import {
  beginPump,
  endPump,
  findPump,
  type PumpChunk,
  type PumpInput,
  type PumpParameters,
  pumpParameters,
  stepPump,
} from '../../../../api/analysis/pump/pump-findings.ts';
import { cleanSeries } from '../../../../api/analysis/quality/clean-series.ts';
import { runRig } from '../../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../../labelled/pump/rig-random.ts';
import { columnsOf, siteOf } from '../../../labelled/pump/rig-ruler.ts';
import { random } from './seeded-random.ts';

/*
 * A live watch has the parameters of the last full analysis (noise, rate, levels of the switch); with the same ones it
 * must find what the batch finds, however the readings are cut into chunks.
 */
const SEED = 7;

function inputOf(family: (typeof RIG_FAMILIES)[number]): PumpInput {
  const scenario = rigScenario({ ...family, days: 1 }, SEED);
  const log = runRig(scenario.house, new RigRandom(SEED));
  const site = siteOf(scenario);
  const series = cleanSeries(columnsOf(scenario, log), site);
  // A gap of ten minutes and two unusable readings: no log is whole.
  const cut = Math.floor(0.6 * series.timeMs.length);
  const timeMs = series.timeMs.map((atMs, row) => (row < cut ? atMs : atMs + 600_000));
  const pressureBar = series.pressureBar.map((bar, row) => (row === 100 || row === cut + 5 ? Number.NaN : bar));
  return { ...series, timeMs, pressureBar, site };
}

function chunked(input: PumpInput, parameters: PumpParameters, size: () => number) {
  const watch = beginPump(parameters);
  const told: string[] = [];
  for (let from = 0; from < input.timeMs.length; ) {
    const to = Math.min(input.timeMs.length, from + size());
    const part = (column: Float64Array | undefined) => column?.slice(from, to);
    const chunk: PumpChunk = {
      timeMs: input.timeMs.slice(from, to),
      pressureBar: input.pressureBar.slice(from, to),
      flowLpm: part(input.flowLpm),
      pumpOn: part(input.pumpOn),
      inletBar: part(input.inletBar),
    };
    for (const { start } of stepPump(watch, chunk)) told.push(start);
    from = to;
  }
  return { told, result: endPump(watch) };
}

describe('a live watch', () => {
  it.each(RIG_FAMILIES)('finds on $name what the batch finds, in chunks of any size', (family) => {
    const input = inputOf(family);
    const parameters = pumpParameters(input);
    const batch = findPump(input);
    const next = random(SEED);
    for (const size of [() => 1 + Math.floor(3600 * next() ** 4), () => 86_400]) {
      expect(chunked(input, parameters, size).result).toEqual(batch);
    }
  });

  it('finds the same reading by reading, and tells every start once, as its stop is seen', () => {
    const input = inputOf(RIG_FAMILIES.find(({ name }) => name === 'leak')!);
    const batch = findPump(input);
    const { told, result } = chunked(input, pumpParameters(input), () => 1);
    expect(result).toEqual(batch);
    expect(new Set(told).size).toBe(told.length);
    const stopped = batch.pumpStarts.flatMap(({ start, stop }) => (stop === undefined ? [] : [start]));
    expect(stopped.length - told.length).toBeLessThanOrEqual(1);
    expect(stopped.slice(0, told.length)).toEqual(told);
  });
});

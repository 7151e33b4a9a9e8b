import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import { runRig } from '../../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../../labelled/pump/rig-random.ts';
import { columnsOf, siteOf } from '../../../labelled/pump/rig-ruler.ts';

/* A booster's first run fills its pipes and vessel from the street's own pressure: labels of the rig, by construction. */
describe('the first run of a booster that is fitted', () => {
  it.each([
    [1, 1],
    [1, 3],
    [10, 1],
    [10, 2],
    [10, 3],
  ])('is a start like any other, at %i s on rig %i', (intervalS, seed) => {
    const family = RIG_FAMILIES.find(({ name }) => name === 'fitted, 10 s')!;
    const scenario = rigScenario({ ...family, intervalS, days: 8 }, seed);
    const log = runRig(scenario.house, new RigRandom(seed));
    const { pumpStarts, changes } = analyse(columnsOf(scenario, log), siteOf(scenario));
    expect(changes.map(({ kind }) => kind)).toEqual(['booster']);
    const toleranceMs = Math.max(3_000, 1_500 * intervalS);
    const [first, second] = log.starts;
    const near = (ms: number) => pumpStarts.filter(({ start }) => Math.abs(Date.parse(start) - ms) <= toleranceMs);
    expect(near(first!.startMs)).toHaveLength(1);
    expect(near(first!.startMs)[0]!.cutInBar).toBeUndefined();
    const stopMs = Date.parse(near(first!.startMs)[0]!.stop!);
    expect(Math.abs(stopMs - first!.stopMs!)).toBeLessThanOrEqual(toleranceMs + 2_000);
    expect(Date.parse(pumpStarts[0]!.start)).toBeGreaterThanOrEqual(first!.startMs - toleranceMs);
    expect(Date.parse(pumpStarts[1]!.start)).toBeGreaterThanOrEqual(second!.startMs - toleranceMs);
  });
});

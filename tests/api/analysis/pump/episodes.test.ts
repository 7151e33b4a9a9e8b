import { describe, expect, it } from 'vitest';
import { cyclingEpisodes } from '../../../../api/analysis/pump/episodes.ts';

const at = (minutes: number, onDemand: boolean) => ({ startMs: minutes * 60_000, startRow: 0, onDemand });

// The project's own definition of an episode: there is no standard one (reference work found none).
describe('episodes of cycling', () => {
  it('need four starts without demand no more than 20 min apart', () => {
    expect(cyclingEpisodes([0, 20, 40].map((m) => at(m, false)))).toEqual([]);
    const [episode] = cyclingEpisodes([0, 20, 40, 60].map((m) => at(m, false)));
    expect(episode).toMatchObject({ kind: 'no_demand', startsPerHour: 3, irregularity: 0 });
    expect(cyclingEpisodes([0, 20, 40.1, 60.1].map((m) => at(m, false)))).toEqual([]);
  });

  it('are broken by a start on demand', () => {
    const runs = [at(0, false), at(5, false), at(10, false), at(12, true), at(15, false), at(20, false)];
    expect(cyclingEpisodes(runs)).toEqual([]);
  });

  it('on demand need four starts at most 15 s apart', () => {
    const [episode] = cyclingEpisodes([0, 0.25, 0.5, 0.75].map((m) => at(m, true)));
    expect(episode).toMatchObject({ kind: 'rapid_on_demand', startsPerHour: 240 });
    expect(cyclingEpisodes([0, 0.25, 0.5, 0.76].map((m) => at(m, true)))).toEqual([]);
  });
});

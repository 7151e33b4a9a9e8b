import { describe, expect, it } from 'vitest';
import type { AnalysisSite } from '../../../../api/analysis/findings.ts';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { pumpTrends } from '../../../../api/analysis/pump/pump-trends.ts';
import { runRig } from '../../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../../labelled/pump/rig-random.ts';
import { columnsOf } from '../../../labelled/pump/rig-ruler.ts';
import { boosterHouse, START_MS } from './booster-house.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

function found(options: Parameters<typeof boosterHouse>[0], site: AnalysisSite = OUTLET_SITE) {
  const log = boosterHouse(options);
  return findPump({
    timeMs: log.timeMs,
    pressureBar: log.pressureBar,
    site,
    intervalS: options.intervalS ?? 1,
    noiseBar: 0.005,
    quantumBar: 0.001,
  });
}

describe('other states of a pump', () => {
  it('finds the spells in which the pump turned dry, with and without its channel', () => {
    const scenario = rigScenario(RIG_FAMILIES.find(({ name }) => name === 'dry spells')!, 103);
    const log = runRig(scenario.house, new RigRandom(1));
    const { stages } = scenario.house;
    for (const withChannel of [false, true]) {
      const { states } = findPump({
        ...columnsOf({ ...scenario, channels: withChannel ? ['pump'] : [] }, log),
        site: OUTLET_SITE,
        intervalS: 1,
        noiseBar: scenario.house.noiseBar,
        quantumBar: scenario.house.quantumBar,
      });
      const held = states.filter(({ kind }) => kind === (withChannel ? 'no_rise' : 'did_not_start'));
      for (const state of held) {
        const startS = (Date.parse(state.start) - log.timeMs[0]!) / 1000;
        const dry = stages.some(
          (stage, k) => stage.plan.dry && startS >= stage.fromS && startS <= stages[k + 1]!.fromS + 60,
        );
        expect(dry, state.reason).toBe(true);
      }
    }
  });

  it('tells that a pump didn’t stop though draws held its pressure down for most of the time', () => {
    const scenario = rigScenario(RIG_FAMILIES.find(({ name }) => name === 'does not stop, pump channel')!, 804);
    const log = runRig(scenario.house, new RigRandom(scenario.seed * 31 + scenario.family.length));
    const { states } = findPump({
      ...columnsOf(scenario, log),
      site: OUTLET_SITE,
      intervalS: 1,
      noiseBar: scenario.house.noiseBar,
      quantumBar: scenario.house.quantumBar,
    });
    const first = states[0]!;
    expect(first.kind).toBe('did_not_stop');
    expect(first.value).toBeLessThan(scenario.house.stages[0]!.plan.cutOutBar - 0.2);
    expect(first.reason).toMatch(/above the 3\.5\d bar at which it stops/);
  });

  it('counts starts outside the allowed hours by the site’s own clock', () => {
    const site: AnalysisSite = { ...OUTLET_SITE, timeZone: 'Asia/Kolkata', pump: { allowedHours: [6, 22] } };
    const outside = found({ days: 1, leakLpm: 0.2 }, site).states.filter(({ kind }) => kind === 'outside_hours');
    expect(outside.length).toBeGreaterThan(0);
    for (const { start } of outside) {
      const hour = ((Date.parse(start) - START_MS) / 3_600_000 + 5.5) % 24;
      expect(hour >= 22 || hour < 6).toBe(true);
    }
  });

  it('holds the starts in an hour against the owner’s limit, and against none that he hasn’t set', () => {
    expect(found({ days: 1 }).states.filter(({ kind }) => kind === 'too_many_starts')).toEqual([]);
    const strict: AnalysisSite = { ...OUTLET_SITE, pump: { mostStartsPerHour: 3 } };
    const over = found({ days: 1, leakLpm: 0.2 }, strict).states.filter(({ kind }) => kind === 'too_many_starts');
    expect(over.length).toBeGreaterThan(0);
    expect(over.every(({ value }) => value > 3)).toBe(true);
  });

  it('calls nothing wrong with a sound booster', () => {
    const { states, trends, statements } = found({ days: 2 });
    expect(states).toEqual([]);
    expect(trends).toEqual([]);
    expect(statements).toEqual([]);
  });

  it('names cause, pace and date of cycling in one sentence', () => {
    const { statements } = found({ days: 3, leakLpm: 0.2, faultFromDay: 1.5 });
    expect(statements[0]!.text).toMatch(
      /^Since 5 May 2026 the pump starts with nobody drawing water, about \d+ an hour \(on 2 days\); it points to a leak/,
    );
  });
});

describe('slow wear', () => {
  /** Twenty days of six fills each, every day's slower by a hundredth: minus 30 % a month of the first day. */
  function fills(slower: number) {
    const days = 20;
    const perDay = 6;
    const timeMs = new Float64Array(days * perDay * 20);
    const calmBar = new Float64Array(timeMs.length);
    const runs = [];
    for (let k = 0; k < days * perDay; k++) {
      const speed = 1 - slower * Math.floor(k / perDay);
      const fillMs = 10_000 / speed;
      for (let i = 0; i < 20; i++) {
        timeMs[20 * k + i] =
          START_MS + (k / perDay) * 86_400_000 + (Math.min(i, 10) / 10) * fillMs + Math.max(0, i - 10) * 1000;
        calmBar[20 * k + i] = i < 10 ? 2 + 0.15 * i : 3.5;
      }
      const startMs = timeMs[20 * k]!;
      runs.push({
        startMs,
        startRow: 20 * k,
        stopMs: startMs + fillMs,
        stopRow: 20 * k + 10,
        cutInBar: 2,
        cutOutBar: 3.5,
      });
    }
    const rows = {
      timeMs,
      bar: calmBar,
      calmBar,
      stretchFrom: Int32Array.from([0, timeMs.length]),
      noiseBar: 0.001,
      calmNoiseBar: 0.001,
      quantumBar: 0,
      intervalMs: 1000,
    };
    return pumpTrends(rows, runs, 'UTC');
  }

  it('shows as a slope with its chance, and not where nothing changes', () => {
    const [trend] = fills(0.01);
    expect(trend!.figure).toBe('filling');
    // Against the median day (0.905 of the first): 30 × 0.01 / 0.905.
    expect(trend!.perMonth).toBeCloseTo(-0.331, 2);
    expect(trend!.p).toBeLessThan(0.001);
    expect(fills(0)).toEqual([]);
  });
});

import { describe, expect, it } from 'vitest';
import { analyse, watchOf } from '../../../../api/analysis/analyse.ts';
import type { AnalysisSite, FindingsDocument, MeterPlace } from '../../../../api/analysis/findings.ts';
import { meteredRuns, meterHabits } from '../../../../api/analysis/pump/metered-runs.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import type { Position } from '../../../../collector/model/channel.ts';
import { DEFAULT_THRESHOLDS } from '../../../../collector/model/site.ts';
import { runRig } from '../../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../../labelled/pump/rig-random.ts';
import { columnsOf, figuresOf, siteOf } from '../../../labelled/pump/rig-ruler.ts';
import { random } from './seeded-random.ts';

/*
 * A meter between a pump and its vessel sees flow while the pump runs and at no other time: the continuity of water, no
 * source needed. Flows are means over the interval that ends at their time, as a site's description says.
 */
const START_MS = Date.UTC(2026, 4, 4);

/** A pump's runs in seconds, [from, to), and the mean flow of each interval at 12 l/min. */
function meter(seconds: number, intervalS: number, runs: readonly (readonly [number, number])[], litresAStep = 0) {
  const rows = Math.floor(seconds / intervalS);
  const timeMs = Float64Array.from({ length: rows }, (_, k) => START_MS + 1000 * intervalS * (k + 1));
  let counted = 0;
  const lpm = timeMs.map((atMs) => {
    const toS = (atMs - START_MS) / 1000;
    const upTo = (s: number) => runs.reduce((sum, [from, to]) => sum + Math.max(0, Math.min(to, s) - from) * 0.2, 0);
    if (litresAStep === 0) return ((upTo(toS) - upTo(toS - intervalS)) * 60) / intervalS;
    const steps = Math.floor(upTo(toS) / litresAStep) - counted;
    counted += steps;
    return (steps * litresAStep * 60) / intervalS;
  });
  return { timeMs, lpm };
}

function runsOf({ timeMs, lpm }: ReturnType<typeof meter>, intervalS: number) {
  const rows = pumpRows(timeMs, new Float64Array(timeMs.length).fill(2), intervalS, 0.004, 0);
  const habits = meterHabits(timeMs, lpm, 1000 * intervalS);
  if (!habits) return undefined;
  const { runs, spells } = meteredRuns(timeMs, lpm, rows, habits);
  const seconds = (ms: number | undefined) => (ms === undefined ? undefined : (ms - START_MS) / 1000);
  return { runs: runs.map(({ startMs, stopMs }) => [seconds(startMs), seconds(stopMs)]), spells };
}

describe('runs by a meter on the pump’s own line', () => {
  it('begin and end within a row, by the part of it that flowed', () => {
    const told = runsOf(
      meter(600, 10, [
        [104, 153],
        [307.5, 380],
      ]),
      10,
    );
    expect(told?.runs).toEqual([
      [104, 153],
      [307.5, 380],
    ]);
  });

  it('of less than a row last as long as their litres take, in that row', () => {
    const runs = [
      [70, 130],
      [204, 207],
      [320, 380],
      [444, 450],
    ] as const;
    const told = runsOf(meter(600, 10, runs), 10);
    expect(told?.runs).toEqual([
      [70, 130],
      [203.5, 206.5],
      [320, 380],
      [442, 448],
    ]);
  });

  it('aren’t cut up by a meter that counts whole litres', () => {
    const told = runsOf(
      meter(
        1_000,
        1,
        [
          [100, 190],
          [400, 460],
          [700, 800],
        ],
        1,
      ),
      1,
    );
    expect(told?.runs).toHaveLength(3);
    told!.runs.forEach(([start], k) => {
      // The first litre takes 5 s.
      expect(Math.abs(start! - [100, 400, 700][k]!)).toBeLessThanOrEqual(5);
    });
  });

  it('have no start where they were under way when the log began or came back, and no stop where it ended', () => {
    const { timeMs, lpm } = meter(1_000, 1, [
      [0, 50],
      [200, 260],
      [395, 500],
      [900, 1_000],
    ]);
    const kept = timeMs.map((ms) => (ms - START_MS < 380_000 || ms - START_MS >= 430_000 ? 1 : 0));
    const of = (column: Float64Array) => column.filter((_, k) => kept[k] === 1);
    const told = runsOf({ timeMs: of(timeMs), lpm: of(lpm) }, 1);
    expect(told?.runs).toEqual([
      [200, 260],
      [900, undefined],
    ]);
    expect(told?.spells.map(({ startSeen, stopSeen }) => [startSeen, stopSeen])).toEqual([
      [false, true],
      [true, true],
      [false, true],
      [true, false],
    ]);
  });

  it('aren’t made of a creeping meter, nor of one that never rests or never moves', () => {
    const creeping = meter(2_000, 1, [
      [300, 320],
      [900, 960],
    ]);
    expect(runsOf({ ...creeping, lpm: creeping.lpm.map((value) => value + 0.45) }, 1)?.runs).toHaveLength(2);
    expect(runsOf(meter(2_000, 1, [[0, 2_000]]), 1)).toBeUndefined();
    expect(runsOf(meter(2_000, 1, []), 1)).toBeUndefined();
  });
});

const PERIOD_S = 600;
const RUN_S = 40;
const RUNS = Array.from({ length: 40 }, (_, k) => [200 + PERIOD_S * k, 200 + PERIOD_S * k + RUN_S] as const);

function found(
  position: Position,
  meters: MeterPlace | undefined,
  bar: (s: number, runs: boolean) => number,
  more = {},
) {
  const { timeMs, lpm } = meter(PERIOD_S * 40, 1, RUNS);
  const next = random(5);
  const pressureBar = timeMs.map((ms) => {
    const s = (ms - START_MS) / 1000;
    const runs = s >= 200 && (s - 200) % PERIOD_S < RUN_S;
    return Math.round(1000 * (bar(s, runs) + 0.01 * (next() - 0.5))) / 1000;
  });
  const site: AnalysisSite = {
    timeZone: 'UTC',
    sensor: { position, rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
    hasFlowMeter: true,
    thresholds: DEFAULT_THRESHOLDS,
    ...(meters === undefined ? {} : { meters }),
    ...more,
  };
  return analyse({ timeMs, pressureBar, flowLpm: lpm }, site);
}

function expectAll({ pumpStarts }: FindingsDocument): void {
  expect(pumpStarts).toHaveLength(RUNS.length);
  pumpStarts.forEach(({ start, stop }, k) => {
    expect(Math.abs(Date.parse(start) - START_MS - 1000 * RUNS[k]![0])).toBeLessThanOrEqual(1_000);
    expect(Math.abs(Date.parse(stop!) - START_MS - 1000 * RUNS[k]![1])).toBeLessThanOrEqual(1_000);
  });
}

describe('starts from a flow channel alone', () => {
  it.each(['incoming', 'pump_inlet'] as const)(
    'are told at %s where the meter is the pump’s, unmarked, and it is said why',
    (at) => {
      const told = found(at, 'pump', (_, runs) => (runs ? 1.6 : 2));
      expectAll(told);
      expect(told.pumpStarts.every(({ onDemand }) => onDemand === undefined)).toBe(true);
      expect(told.cycling).toEqual([]);
      expect(told.limits.some((text) => /whether the household drew isn’t told/.test(text))).toBe(true);
      expect(told.pumpStarts[3]).toMatchObject({ onS: RUN_S, offS: PERIOD_S - RUN_S });
    },
  );

  it('are told behind the pump where the pressure shows nothing, without a mark that nothing supports', () => {
    const told = found('pump_outlet', 'pump', () => 3);
    expectAll(told);
    expect(told.pumpStarts.every((start) => start.onDemand === undefined && start.cutInBar === undefined)).toBe(true);
    expect(told.cycling).toEqual([]);
    expect(told.pumpStates ?? []).toEqual([]);
  });

  it('aren’t made of the household’s draws, and what would tell is said', () => {
    for (const at of ['incoming', 'pump_inlet'] as const) {
      const told = found(at, 'household', (_, runs) => (runs ? 1.6 : 2), { pump: {} });
      expect(told.pumpStarts).toEqual([]);
      expect(told.limits.some((text) => /when the pump starts can’t be told by it/.test(text))).toBe(true);
    }
  });

  it('aren’t guessed where the meter’s place isn’t said and doesn’t show', () => {
    const told = found('incoming', undefined, (_, runs) => (runs ? 1.6 : 2), { pump: {} });
    expect(told.pumpStarts).toEqual([]);
    expect(told.limits.some((text) => /flowMeter\.meters/.test(text))).toBe(true);
  });

  it('are told where the inlet is pulled down with the flow and nowhere else, though nobody says where the meter sits', () => {
    expectAll(found('pump_inlet', undefined, (_, runs) => (runs ? 1.6 : 2)));
  });

  it('leave the household’s own draws at the main to the pressure', () => {
    // A tap that branches off before the pump and its meter draws at other times.
    const tap = (s: number) => s % PERIOD_S >= 400 && s % PERIOD_S < 450;
    const told = found('incoming', 'pump', (s, runs) => 2 - (runs ? 0.4 : 0) - (tap(s) ? 0.3 : 0));
    expect(told.draws.length).toBeGreaterThan(1.8 * RUNS.length);
  });
});

describe('where a meter sits, told by the pressure behind the pump', () => {
  it.each([
    ['sound', 'flow', false],
    ['sound', 'pump flow', true],
    ['leak, 10 s', 'flow', false],
    ['leak, 10 s', 'pump flow', true],
  ] as const)('%s, a meter of %s: on the pump’s line is %s, and marks stay right', (name, channel, onLine) => {
    const family = RIG_FAMILIES.find((one) => one.name === name)!;
    const scenario = { ...rigScenario({ ...family, days: 2 }, 12), channels: [channel] };
    const log = runRig(scenario.house, new RigRandom(12));
    const { meters: _said, ...site } = siteOf(scenario);
    expect(watchOf(columnsOf(scenario, log), site).parameters.pump?.meter === 'pump').toBe(onLine);
    const { starts, demand } = figuresOf(scenario, log, analyse(columnsOf(scenario, log), site), 0);
    expect(starts.missed + starts.false).toBeLessThanOrEqual(0.02 * starts.hit);
    expect(demand.right).toBeGreaterThanOrEqual(0.97 * demand.judged);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { PumpRun, TrueColumns } from '../../../simulator/house.ts';
import { trueDraws } from '../../../simulator/truth/draws.ts';
import { trueLowSupply } from '../../../simulator/truth/low-supply.ts';
import { trueCycling, trueWeakInlet } from '../../../simulator/truth/pump.ts';
import { trueSags } from '../../../simulator/truth/sags.ts';

const START_MS = Date.UTC(2026, 4, 4);
const SENSOR = { noiseBar: 0.004, stepBar: 0.001, intervalS: 1 };

function columns(standing: Float64Array, fall: Float64Array): TrueColumns {
  return {
    startMs: START_MS,
    standingBar: standing,
    pressureBar: standing.map((bar, i) => bar - fall[i]!),
    ownLpm: fall.map((bar) => (bar > 0 ? 8 : 0)),
    inletBar: undefined,
    pumpOn: undefined,
    pumpRuns: [],
  };
}

/** A column from runs of one value each. */
function runs(...parts: readonly (readonly [seconds: number, value: number])[]): Float64Array {
  return Float64Array.from(parts.flatMap(([seconds, value]) => new Array<number>(seconds).fill(value)));
}
const seconds = (span: { startMs: number; endMs: number }): [number, number] => [
  (span.startMs - START_MS) / 1000,
  (span.endMs - START_MS) / 1000,
];

describe('draws, by their definition', () => {
  const drawsIn = (fall: Float64Array, sensor = SENSOR): [number, number][] =>
    trueDraws(columns(new Float64Array(fall.length).fill(2), fall), sensor)
      .filter((draw) => !draw.optional)
      .map(seconds);

  it.each([
    ['a fall of 0.2 bar for 30 s', runs([10, 0], [30, 0.2], [10, 0]), [[10, 40]]],
    ['4 s are too short, 5 s are not', runs([10, 0], [4, 0.2], [20, 0], [5, 0.2], [10, 0]), [[34, 39]]],
    ['a fall of 0.025 bar is too small', runs([10, 0], [30, 0.025], [10, 0]), []],
    ['a pause of 2 s joins', runs([10, 0], [30, 0.2], [2, 0], [30, 0.3], [10, 0]), [[10, 72]]],
    [
      'a pause of 3 s parts',
      runs([10, 0], [30, 0.2], [3, 0], [30, 0.3], [10, 0]),
      [
        [10, 40],
        [43, 73],
      ],
    ],
    ['a tap over a filling cistern', runs([10, 0], [90, 0.015], [20, 0.12], [90, 0.015], [10, 0]), [[100, 120]]],
    ['one that lasts to the end', runs([10, 0], [30, 0.2]), [[10, 40]]],
  ] as const)('%s', (_name, fall, wanted) => {
    expect(drawsIn(fall)).toEqual(wanted);
  });

  it('under the noise or three samples a draw is optional', () => {
    const fall = runs([10, 0], [20, 0.1], [40, 0], [40, 0.4], [10, 0]);
    const optional = (sensor: typeof SENSOR): boolean[] =>
      trueDraws(columns(new Float64Array(fall.length).fill(2), fall), sensor).map((draw) => draw.optional);
    expect(optional(SENSOR)).toEqual([false, false]);
    expect(optional({ ...SENSOR, noiseBar: 0.05 })).toEqual([true, false]);
    expect(optional({ ...SENSOR, intervalS: 10 })).toEqual([true, false]);
    expect(optional({ ...SENSOR, stepBar: 0.06 })).toEqual([true, false]);
  });

  it('a trickle is listed as optional', () => {
    const fall = runs([10, 0], [90, 0.015], [10, 0]);
    const found = trueDraws(columns(new Float64Array(fall.length).fill(2), fall), SENSOR);
    expect(found.map((draw) => [...seconds(draw), draw.optional])).toEqual([[10, 100, true]]);
  });

  it('never overlap, and hold every long and clear fall', () => {
    const piece = fc.tuple(fc.integer({ min: 1, max: 60 }), fc.constantFrom(0, 0, 0.02, 0.08, 0.4));
    fc.assert(
      fc.property(fc.array(piece, { minLength: 1, maxLength: 40 }), (parts) => {
        const fall = runs(...parts);
        const found = drawsIn(fall);
        found.forEach(([from, to], i) => {
          expect(to - from).toBeGreaterThanOrEqual(5);
          if (i > 0) expect(from - found[i - 1]![1]).toBeGreaterThanOrEqual(3);
        });
        for (let i = 0; i + 60 < fall.length; i++) {
          if (fall.slice(i, i + 30).every((bar) => bar === 0.4)) {
            expect(found.some(([from, to]) => from <= i && i + 30 <= to)).toBe(true);
          }
        }
      }),
    );
  });
});

describe('low supply, by its definition', () => {
  const lowIn = (bar: Float64Array, blind: { startMs: number; endMs: number }[] = []) =>
    trueLowSupply(START_MS, bar, 0.7, 0.1, blind);

  it.each([
    ['59 s are too short', runs([100, 1], [59, 0.5], [100, 1]), []],
    ['60 s are enough', runs([100, 1], [60, 0.5], [100, 1]), [[100, 160]]],
    ['a recovery of 119 s is bridged', runs([100, 1], [60, 0.5], [119, 1], [60, 0.5], [100, 1]), [[100, 339]]],
    [
      'one of 120 s is not',
      runs([100, 1], [60, 0.5], [120, 1], [60, 0.5], [100, 1]),
      [
        [100, 160],
        [280, 340],
      ],
    ],
    ['bridging comes before the 60 s', runs([100, 1], [20, 0.5], [30, 1], [20, 0.5], [100, 1]), [[100, 170]]],
    ['exactly at the threshold is not below', runs([100, 1], [600, 0.7], [100, 1]), []],
  ] as const)('%s', (_name, bar, wanted) => {
    expect(lowIn(bar).map(seconds)).toEqual(wanted);
  });

  it('a blind spell of more than 120 s ends a period, a shorter one does not', () => {
    const bar = runs([100, 1], [1000, 0.5], [100, 1]);
    const blind = (from: number, to: number) => [{ startMs: START_MS + from * 1000, endMs: START_MS + to * 1000 }];
    expect(lowIn(bar, blind(400, 700)).map(seconds)).toEqual([
      [100, 400],
      [700, 1100],
    ]);
    expect(lowIn(bar, blind(400, 500)).map(seconds)).toEqual([[100, 1100]]);
  });

  it('is certain only where it lasts under the threshold less the uncertainty', () => {
    expect(lowIn(runs([100, 1], [300, 0.55], [100, 1])).map((low) => low.certainty)).toEqual(['certain']);
    expect(lowIn(runs([100, 1], [300, 0.65], [100, 1])).map((low) => low.certainty)).toEqual(['possible']);
    expect(lowIn(runs([100, 1], [100, 0.65], [59, 0.5], [100, 0.65], [99, 1])).map((low) => low.certainty)).toEqual([
      'possible',
    ]);
  });

  it('names the lowest', () => {
    expect(lowIn(runs([100, 1], [300, 0.65], [60, 0.4], [300, 0.65]))[0]!.minBar).toBeCloseTo(0.4, 6);
  });
});

describe('sags, by their definition', () => {
  const DAY_S = 86_400;
  /** A day of 3 bar with a triangular fall: from, lowest, to in hours, depth in bar. */
  const day = (from: number, lowest: number, to: number, depth: number): Float64Array =>
    Float64Array.from({ length: DAY_S }, (_, i) => {
      const hour = i / 3600;
      if (hour <= from || hour >= to) return 3;
      return 3 - depth * (hour < lowest ? (hour - from) / (lowest - from) : (to - hour) / (to - lowest));
    });
  const sagsIn = (bar: Float64Array, zone = 'UTC') => trueSags(START_MS, bar, zone, 0.3);

  it('starts and ends where half the depth is crossed', () => {
    const [morning, evening] = sagsIn(day(6, 7, 9, 1));
    expect(morning).toMatchObject({ day: '2026-05-04', window: 'morning', state: 'present' });
    // The 5-minute mean rounds the tip off: a straight edge of 1 bar/h one side, 0.5 the other, by 0.047 bar at most.
    expect(morning!.depthBar!).toBeGreaterThan(0.95);
    expect(Math.abs(morning!.startMs! - (START_MS + 6.5 * 3_600_000))).toBeLessThan(120_000);
    expect(Math.abs(morning!.lowestMs! - (START_MS + 7 * 3_600_000))).toBeLessThan(120_000);
    expect(Math.abs(morning!.endMs! - (START_MS + 8 * 3_600_000))).toBeLessThan(240_000);
    expect(evening).toMatchObject({ window: 'evening', state: 'absent' });
  });

  it('less than the least depth is absent', () => {
    expect(sagsIn(day(6, 7, 9, 0.29))[0]!.state).toBe('absent');
  });

  it('a beginning before the window and a recovery that stays away are told', () => {
    expect(sagsIn(day(4.9, 5.05, 10, 1))[0]).toMatchObject({ state: 'present', startsBefore: true });
    const late = sagsIn(day(9, 10.9, 23, 1))[0]!;
    expect(late).toMatchObject({ state: 'present', recovered: false });
    expect(late.endMs).toBe(START_MS + 12 * 3_600_000);
    expect(sagsIn(day(9, 10.5, 12, 1))[0]).not.toHaveProperty('recovered');
  });

  it('a day whose night or window is cut off is unknown', () => {
    expect(sagsIn(day(6, 7, 9, 1).slice(2 * 3600)).map((sag) => sag.state)).toContain('unknown');
    expect(sagsIn(day(6, 7, 9, 1).slice(0, 10 * 3600)).map((sag) => sag.state)).toEqual(['unknown', 'unknown']);
  });

  it('windows are by the site’s clock', () => {
    // 06:00–09:00 UTC is 15:30–18:30 in Adelaide (UTC+09:30 in May): an evening's sag, if any.
    const sags = trueSags(
      START_MS,
      Float64Array.from([...day(8, 9, 11, 1), ...day(8, 9, 11, 1)]),
      'Australia/Adelaide',
      0.3,
    );
    const present = sags.filter((sag) => sag.state === 'present');
    expect(present.map((sag) => [sag.day, sag.window])).toEqual([['2026-05-05', 'evening']]);
  });
});

describe('cycling and weak inlet, by their definitions', () => {
  const startsAt = (onDemand: boolean, ...atS: number[]): PumpRun[] =>
    atS.map((s) => ({ startMs: START_MS + s * 1000, stopMs: START_MS + s * 1000 + 4000, onDemand }));

  it('four starts without demand 20 min apart are an episode, three or 20 min 1 s are not', () => {
    expect(trueCycling(startsAt(false, 0, 1200, 2400, 3600), ['leak'])).toMatchObject([
      {
        kind: 'no_demand',
        starts: 4,
        startsPerHour: 3,
        startMs: START_MS,
        endMs: START_MS + 3_604_000,
        causes: ['leak'],
      },
    ]);
    expect(trueCycling(startsAt(false, 0, 1200, 2400), ['leak'])).toEqual([]);
    expect(trueCycling(startsAt(false, 0, 1201, 2402, 3603), ['leak'])).toEqual([]);
  });

  it('four starts on demand 15 s apart are rapid, 16 s are not', () => {
    expect(trueCycling(startsAt(true, 0, 15, 30, 45), ['lost_precharge'])).toMatchObject([{ kind: 'rapid_on_demand' }]);
    expect(trueCycling(startsAt(true, 0, 16, 32, 48), ['lost_precharge'])).toEqual([]);
  });

  it('a start on demand between ends an episode', () => {
    const mixed = [...startsAt(false, 0, 600, 1200), ...startsAt(true, 1500), ...startsAt(false, 1800, 2400, 3000)];
    expect(trueCycling(mixed, ['leak'])).toEqual([]);
  });

  it('weak inlet is one interval a run of the pump', () => {
    const weak = trueWeakInlet(
      {
        ...columns(new Float64Array(12), new Float64Array(12)),
        inletBar: Float64Array.of(1, 0.5, 0.2, 0.1, 0.5, 0.25, 0.1, 1, 0.1, 0.1, 0.2, 1),
        pumpOn: Float64Array.of(0, 1, 1, 1, 1, 1, 0, 0, 0, 1, 1, 0),
      },
      0.3,
    );
    expect(weak.map((one) => [...seconds(one), one.minBar])).toEqual([
      [2, 6, 0.1],
      [9, 11, 0.1],
    ]);
  });
});

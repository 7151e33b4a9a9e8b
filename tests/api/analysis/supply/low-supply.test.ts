import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import { findLowSupply } from '../../../../api/analysis/supply/low-supply.ts';
import { qualifyingPairs } from '../../../../api/analysis/supply/qualifying.ts';
import { CELL, type StandingCells } from '../../../../api/analysis/supply/standing-cells.ts';
import { PLAIN_SITE, plainHouse } from '../plain-house.ts';

const STEP_MS = 10_000;
const DAY_MS = 86_400_000;

/** Cells of ten seconds from pieces [seconds, bar]; undefined is a gap, 'draw' a draw without books. */
function cellsOf(pieces: readonly (readonly [number, number | undefined | 'draw'])[]): StandingCells {
  const bar: number[] = [];
  const state: number[] = [];
  for (const [lengthS, level] of pieces) {
    for (let s = 0; s < lengthS; s += 10) {
      bar.push(typeof level === 'number' ? level : Number.NaN);
      state.push(typeof level === 'number' ? CELL.seen : level === 'draw' ? CELL.hidden : CELL.absent);
    }
  }
  return {
    startMs: 0,
    stepMs: STEP_MS,
    count: bar.length,
    bar: Float64Array.from(bar),
    sdBar: new Float32Array(bar.length).fill(0.001),
    doubtSdBar: new Float32Array(bar.length),
    state: Uint8Array.from(state),
  };
}

const lengths = (cells: StandingCells, threshold = 0.7, sensor = 0.01) =>
  findLowSupply(cells, threshold, sensor).map((p) => Math.round((p.endMs - p.startMs) / 1000));

describe('low-supply periods', () => {
  it('bridge recoveries under 120 s, then ask 60 s', () => {
    expect(
      lengths(
        cellsOf([
          [600, 1],
          [40, 0.5],
          [60, 1],
          [40, 0.5],
          [600, 1],
        ]),
      ),
    ).toHaveLength(1);
    expect(
      lengths(
        cellsOf([
          [600, 1],
          [40, 0.5],
          [600, 1],
        ]),
      ),
    ).toEqual([]);
    expect(
      lengths(
        cellsOf([
          [600, 1],
          [300, 0.5],
          [180, 1],
          [300, 0.5],
          [600, 1],
        ]),
      ),
    ).toHaveLength(2);
  });

  it('are ended by a gap of more than 120 s, not by a shorter one', () => {
    expect(
      lengths(
        cellsOf([
          [600, 0.5],
          [1200, undefined],
          [600, 0.5],
        ]),
      ),
    ).toHaveLength(2);
    expect(
      lengths(
        cellsOf([
          [600, 0.5],
          [100, undefined],
          [600, 0.5],
        ]),
      ),
    ).toHaveLength(1);
  });

  it('known low on both sides of a draw are one', () => {
    expect(
      lengths(
        cellsOf([
          [600, 1],
          [600, 0.5],
          [900, 'draw'],
          [600, 0.5],
          [600, 1],
        ]),
      ),
    ).toHaveLength(1);
  });

  it('are certain only below the threshold less the expanded uncertainty', () => {
    const [near] = findLowSupply(
      cellsOf([
        [600, 1],
        [600, 0.65],
        [600, 1],
      ]),
      0.7,
      0.05,
    );
    const [deep] = findLowSupply(
      cellsOf([
        [600, 1],
        [600, 0.55],
        [600, 1],
      ]),
      0.7,
      0.05,
    );
    expect([near!.certain, deep!.certain]).toEqual([false, true]);
  });

  it('have a lowest that is below the threshold and no higher than their mean, with its own time', () => {
    // One low cell of 10 s among recoveries is bridged to the others; its neighbours are no part of its level.
    const [found] = findLowSupply(
      cellsOf([
        [600, 1],
        [60, 0.6],
        [30, 1.2],
        [10, 0.3],
        [30, 1.2],
        [60, 0.6],
        [600, 1],
      ]),
      0.7,
      0.01,
    );
    expect(found!.minBar).toBeCloseTo(0.3, 6);
    expect(found!.minBar).toBeLessThanOrEqual(found!.meanBar);
    expect(found!.lowestMs).toBe(690_000);
  });

  it('lie within the log', () => {
    const log = { startMs: 0, endMs: 595_000 };
    const [found] = findLowSupply(cellsOf([[600, 0.4]]), 0.7, 0.01, log);
    expect([found!.startMs, found!.endMs]).toEqual([log.startMs, log.endMs]);
  });

  it('of a whole log start with its first reading and end with its last', () => {
    const timeMs = Float64Array.from({ length: 3_600 }, (_, s) => 1_000 * s + 7_000);
    const pressureBar = timeMs.map((_, s) => 0.4 + 0.001 * Math.sin(s * 12.9898));
    const found = analyse({ timeMs, pressureBar }, PLAIN_SITE);
    expect(found.lowSupply.map(({ start, end }) => [start, end])).toEqual([[found.series.start, found.series.end]]);
  });
});

// The project's test vectors for the rule of two occasions in 28 days (reference values, 1.5): an interpretation, not law.
describe('qualifying occasions and pairs', () => {
  const occasion = (startMs: number, lengthS: number) => {
    const cells = cellsOf([
      [600, 1],
      [lengthS, 0.4],
      [600, 1],
    ]);
    return { ...findLowSupply(cells, 0.7, 0.01)[0]!, startMs };
  };
  const pairs = (startsInDays: number[], lengthS = 7200) =>
    qualifyingPairs(startsInDays.map((day) => occasion(day * DAY_MS, lengthS))).pairs.length;

  it('T1: under an hour twice is no occasion', () => {
    expect(pairs([0, 5], 3570)).toBe(0);
  });
  it('T2: an hour twice pairs', () => {
    expect(pairs([0, 5], 3610)).toBe(1);
  });
  it('T3 and T4: 27 days apart pair, 29 do not', () => {
    expect(pairs([0, 27])).toBe(1);
    expect(pairs([0, 29])).toBe(0);
  });
  it('pairs take the mark of the period: certain for a minute, though not for the whole hour', () => {
    const partly = {
      ...findLowSupply(
        cellsOf([
          [600, 1],
          [3000, 0.69],
          [1200, 0.4],
          [600, 1],
        ]),
        0.7,
        0.05,
      )[0]!,
    };
    expect([partly.qualifying, partly.certain, partly.certainForQualifying]).toEqual([true, true, false]);
    expect(qualifyingPairs([partly, { ...partly, startMs: partly.startMs + DAY_MS }]).pairs).toEqual([[0, 1]]);
  });
  it('T5: one occasion is no pair', () => {
    expect(pairs([0])).toBe(0);
  });
  it('T6: exactly at the threshold is not below it', () => {
    expect(
      findLowSupply(
        cellsOf([
          [600, 1],
          [7200, 0.7],
          [600, 1],
        ]),
        0.7,
        0.01,
      ),
    ).toEqual([]);
  });
});

describe('draws that may be others than those accounted for', () => {
  const doubted = (pieces: readonly (readonly [number, number, number])[]) => {
    const cells = cellsOf(pieces.map(([lengthS, level]) => [lengthS, level] as const));
    cells.doubtSdBar.set(pieces.flatMap(([lengthS, , doubt]) => new Array<number>(lengthS / 10).fill(doubt)));
    cells.sdBar.set(cells.sdBar.map((sd, k) => Math.hypot(sd, cells.doubtSdBar[k]!)));
    return findLowSupply(cells, 0.7, 0.01);
  };
  it('end a period where nothing beyond them is low', () => {
    const found = doubted([
      [600, 1, 0],
      [1200, 0.5, 0],
      [300, 0.6, 0.08],
      [600, 1, 0],
    ]);
    expect(found).toHaveLength(1);
    expect(Math.abs(found[0]!.endMs - 1_800_000)).toBeLessThanOrEqual(STEP_MS);
    expect(found[0]!.certain).toBe(true);
  });
  it('belong to a period that is low on both their sides', () => {
    const found = doubted([
      [600, 1, 0],
      [1200, 0.5, 0],
      [300, 0.6, 0.2],
      [1200, 0.5, 0],
      [600, 1, 0],
    ]);
    expect(found.map((p) => Math.round((p.endMs - p.startMs) / 60_000))).toEqual([45]);
  });
  it('leave a period that rests on them possible, and one that they may explain away untold', () => {
    const over = (doubt: number) =>
      doubted([
        [600, 1, 0],
        [1200, 0.6, doubt],
        [600, 1, 0],
      ]).map((p) => p.certain);
    expect(over(0.01)).toEqual([true]);
    expect(over(0.07)).toEqual([false]);
    expect(over(0.15)).toEqual([]);
  });
});

describe('height between logger and supply point', () => {
  // T7: 0.60 bar at 1.2 m above the stop tap is 0.7177 bar at it; T8: 0.70 bar at 0.5 m below it is 0.6510 bar.
  const site = (heightAboveSupplyPointM: number) => ({
    ...PLAIN_SITE,
    sensor: { ...PLAIN_SITE.sensor, heightAboveSupplyPointM },
    thresholds: { ...PLAIN_SITE.thresholds, lowSupplyBar: 0.6865 },
  });
  it('T7: a low reading high above the stop tap is no low supply', () => {
    const columns = plainHouse({ hours: 3, street: () => 0.6, noiseBar: 0.002 });
    expect(analyse(columns, site(1.2)).lowSupply).toEqual([]);
    expect(analyse(columns, site(0)).lowSupply).toHaveLength(1);
  });
  it('T8: a higher reading below the stop tap is', () => {
    const columns = plainHouse({ hours: 3, street: () => 0.7, noiseBar: 0.002 });
    expect(analyse(columns, site(-0.5)).lowSupply).toHaveLength(1);
  });
});

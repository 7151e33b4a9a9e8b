import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import { drawnIndices } from '../../../../api/analysis/statistics/bootstrap.ts';
import { flowingShares, meteredExtent } from '../../../../api/analysis/supply/flow-draws.ts';
import { excessBar, fallOfExcess, fitSharedShare } from '../../../../api/analysis/supply/shared-pipe.ts';
import { fitSupplyCurve, type LossPoint } from '../../../../api/analysis/supply/supply-curve.ts';
import { MONDAY_MS, PLAIN_SITE, plainHouse } from '../plain-house.ts';

const METERED = { ...PLAIN_SITE, hasFlowMeter: true };
const minutes = (count: number) => count * 60;

describe('the service pipe’s loss from metered draws', () => {
  const draws = Array.from({ length: 40 }, (_, i) => ({
    fromS: minutes(20 + 30 * i),
    toS: minutes(22 + 30 * i),
    opening: 2 + (i % 7),
  }));
  const columns = plainHouse({ hours: 22, street: (s) => 3 + 0.1 * Math.sin(s / 9000), draws, metered: true });

  it('is found with its exponent', () => {
    const { servicePipe } = analyse(columns, METERED);
    expect(Math.abs(servicePipe!.exponent - 2)).toBeLessThan(0.02);
    expect(Math.abs(servicePipe!.kBarPerLpmN / 0.003 - 1)).toBeLessThan(0.03);
    expect(servicePipe!.draws).toBe(40);
    const [low, high] = servicePipe!.exponentInterval!;
    expect(high - low).toBeLessThan(0.1);
  });

  it('has intervals that hold the true k and exponent in about 95 of 100 houses', () => {
    const uniform = drawnIndices();
    const normal = () => Array.from({ length: 12 }, () => uniform(1_000_000) / 1e6).reduce((a, b) => a + b, -6);
    let heldK = 0;
    let heldN = 0;
    for (let house = 0; house < 100; house++) {
      const points: LossPoint[] = Array.from({ length: 80 }, (_, i) => {
        const flowLpm = 3 + 10 * (uniform(1000) / 1000);
        return { draw: i >> 1, flowLpm, lossBar: 0.005 * flowLpm ** 1.75 + 0.006 * normal() };
      });
      const { kInterval, nInterval } = fitSupplyCurve(points, 0.01)!;
      if (kInterval![0] < 0.005 && kInterval![1] > 0.005) heldK++;
      if (nInterval![0] < 1.75 && nInterval![1] > 1.75) heldN++;
    }
    expect(heldK).toBeGreaterThanOrEqual(88);
    expect(heldN).toBeGreaterThanOrEqual(88);
    expect(heldK).toBeLessThan(100);
  });

  it('is told in words, and only with a meter', () => {
    const said = (site: typeof METERED) =>
      analyse(columns, site)
        .evidence.statements.map(({ text }) => text)
        .join(' ');
    expect(said(METERED)).toMatch(/take about 0\.\d\d bar at 10 l\/min: k·Qⁿ .* from 40 draws/);
    expect(said({ ...METERED, hasFlowMeter: false })).not.toMatch(/k·Qⁿ/);
  });

  it('a fifth of edges with a neighbour’s fall in them don’t decide', () => {
    const points: LossPoint[] = Array.from({ length: 60 }, (_, i) => {
      const flowLpm = 3 + (i % 11);
      return { draw: i >> 1, flowLpm, lossBar: 0.006 * flowLpm ** 1.8 + 0.002 * Math.sin(i) + (i % 5 === 0 ? 0.4 : 0) };
    });
    const curve = fitSupplyCurve(points, 0.003)!;
    expect(curve.n).toBeCloseTo(1.8, 1);
    expect(curve.k * 8 ** curve.n).toBeCloseTo(0.006 * 8 ** 1.8, 2);
  });
});

describe('a metered draw at a reading every 10 s', () => {
  it('has the flow and the times that the intervals at its ends tell', () => {
    const intervalS = 10;
    const rows = 6 * 60 * 8;
    const timeMs = Float64Array.from({ length: rows }, (_, i) => MONDAY_MS + i * intervalS * 1000);
    const flowLpm = new Float64Array(rows);
    const pressureBar = new Float64Array(rows).fill(2);
    for (let d = 0; d < 20; d++) {
      // 12 l/min from 4 s into one interval to 5 s into another, each turn half a second of it; rows are means of ten seconds.
      const first = 100 + 120 * d;
      const shares = [0.575, 1, 1, 0.475];
      shares.forEach((share, k) => {
        flowLpm[first + k] = 12 * share;
        pressureBar[first + k] = k < 3 ? 2 - 0.003 * 144 : 2;
      });
    }
    const { draws } = analyse({ timeMs, pressureBar, flowLpm }, { ...METERED, intervalS });
    expect(draws).toHaveLength(20);
    const firstMs = MONDAY_MS + 100 * 10_000;
    expect(draws[0]!.meanLpm).toBeCloseTo((12 * 30.5) / 31, 1);
    expect(Date.parse(draws[0]!.start)).toBe(firstMs - 6000);
    expect(Date.parse(draws[0]!.end)).toBe(firstMs + 25_000);
  });
});

describe('a float valve that dies away', () => {
  const second = (flowLpm: readonly number[]) => ({
    timeMs: Float64Array.from(flowLpm, (_, i) => i * 1000),
    flowLpm: Float64Array.from(flowLpm),
  });
  const dying = (fromLpm: number, seconds: number) =>
    Array.from({ length: seconds }, (_, i) => fromLpm * (1 - (i + 0.5) / seconds));
  const none = (seconds: number) => new Array<number>(seconds).fill(0);
  const steady = (lpm: number, seconds: number) => new Array<number>(seconds).fill(lpm);
  // What shows in the pressure ends at 3 l/min.
  const extent = (flow: readonly number[], nextRow = flow.length) => {
    const rows = second(flow);
    const toRow = flow.findIndex((lpm, i) => i > 12 && !(lpm > 3));
    return meteredExtent(
      rows.timeMs,
      rows.flowLpm,
      { fromRow: 10, toRow },
      { previousToRow: 0, nextFromRow: nextRow },
      3,
    );
  };

  it('draws until its trickle ends', () => {
    const flow = [...none(10), ...steady(8, 40), ...dying(8, 30), ...none(60)];
    // The last second has less than the meter's nought.
    expect(extent(flow)).toEqual({ fromRow: 10, toRow: 79 });
  });

  it('does not draw through a trickle that stays', () => {
    const flow = [...none(10), ...steady(8, 40), ...dying(8, 30).slice(0, 24), ...steady(1.4, 600), ...none(60)];
    expect(extent(flow).toRow).toBeLessThan(10 + 40 + 24 + 62);
  });

  it('leaves the pause before the next draw', () => {
    const flow = [...none(10), ...steady(8, 40), ...dying(8, 30).slice(0, 24), ...steady(8, 30), ...none(9)];
    expect(extent(flow, 74)).toEqual({ fromRow: 10, toRow: 71 });
  });

  it('has its last interval by a straight line: a triangle through half of it has an eighth of the full height', () => {
    // Falls by 4 l/min an interval: 8, 4, then half an interval more. By arithmetic: means 10, 6, 2 and 2 · ½ · ½ = 0.5 high.
    const rows = second([0, 12, 10, 6, 2, 0]);
    const { last } = flowingShares(rows.flowLpm, { fromRow: 1, toRow: 5 }, 10);
    expect(last).toBeCloseTo(1, 9);
    const half = second([0, 12, 12, 8, 4, 0.5, 0]);
    expect(flowingShares(half.flowLpm, { fromRow: 1, toRow: 6 }, 10).last).toBeCloseTo(0.5, 9);
  });
});

describe('a neighbour on the same pipe', () => {
  const pipe = { k: 0.01, n: 1.852, share: 0.6 };
  // By the loss itself: S(q + m) − S(q) of the reading is his, S(m) of standing pressure.
  const loss = (lpm: number) => 0.006 * lpm ** 1.852;
  const fall = loss(7 + 9) - loss(7);
  const excess = fall - loss(9);

  it('takes more from the reading than from standing pressure', () => {
    expect(excessBar(pipe, 7, fall)).toBeCloseTo(excess, 12);
    expect(fallOfExcess(pipe, 7, excess)).toBeCloseTo(fall, 3);
    expect(excessBar(pipe, 7, 0)).toBe(0);
  });

  it('tells how much of the pipe is shared', () => {
    const seen = [3, 5, 9].map((lpm) => ({
      ownLpm: 7,
      fallBar: loss(7 + lpm) - loss(7),
      excessBar: loss(7 + lpm) - loss(7) - loss(lpm),
      sdBar: 0.01,
    }));
    expect(fitSharedShare(pipe.k, pipe.n, seen)).toBeCloseTo(0.6, 12);
    expect(fitSharedShare(pipe.k, pipe.n, [])).toBeGreaterThan(0);
  });

  it('leaves standing pressure right while both draw', () => {
    const rows = 24 * 3600;
    const timeMs = Float64Array.from({ length: rows }, (_, i) => MONDAY_MS + i * 1000);
    const flowLpm = new Float64Array(rows);
    const standing = new Float64Array(rows).fill(3);
    const pressureBar = new Float64Array(rows);
    for (let s = 0; s < rows; s++) {
      const own = s % 1800 >= 300 && s % 1800 < 600 ? 5 + (Math.floor(s / 1800) % 5) : 0;
      // The neighbour draws within every third draw, and into every fifth.
      const third = Math.floor(s / 1800) % 3 === 0 && s % 1800 >= 400 && s % 1800 < 500;
      const fifth = Math.floor(s / 1800) % 5 === 0 && s % 1800 >= 540 && s % 1800 < 700;
      const other = third || fifth ? 10 : 0;
      flowLpm[s] = own;
      standing[s] = 3 - loss(other);
      pressureBar[s] = 3 - loss(own + other) - 0.004 * own ** 1.852 + 0.003 * Math.sin(1.7 * s);
    }
    const found = analyse({ timeMs, pressureBar, flowLpm }, METERED);
    const off = found.standing!.bar.flatMap((bar, j) => {
      const around = standing.subarray(Math.max(0, 60 * j - 30), 60 * j + 30);
      // Minutes in which his tap is turned hold both levels.
      return bar === null || around.some((value) => value !== around[0]) ? [] : [Math.abs(bar - around[0]!)];
    });
    expect(Math.max(...off)).toBeLessThan(0.04);
  });
});

import { describe, expect, it } from 'vitest';
import { taperedEnds } from '../../../../api/analysis/supply/tapered-end.ts';

/** A cistern: drawn from at once, filled for a while, shut by its float over half a minute; the street moves steadily. */
function cistern(fallBar: number, streetBarPerS: number) {
  const drawnFromS = 100;
  const shutsFromS = 188;
  const fullS = 222;
  const share = (s: number) =>
    s < drawnFromS || s >= fullS ? 0 : s < shutsFromS ? 1 : (fullS - s) / (fullS - shutsFromS);
  const bar = (s: number) => 4 + streetBarPerS * s - fallBar * share(s);
  const timeMs = Float64Array.from({ length: 900 }, (_, s) => s * 1000);
  const pressureBar = timeMs.map((atMs) => bar(atMs / 1000));
  const edges = {
    count: 1,
    row: Int32Array.of(drawnFromS),
    beforeBar: Float64Array.of(bar(drawnFromS - 1)),
    afterBar: Float64Array.of(bar(drawnFromS)),
    sdBar: Float64Array.of(0.004),
    flickerBar: Float64Array.of(0.003),
  };
  return { input: { timeMs, pressureBar, to: 900, levelRows: 8, turnRows: 8, edges, noiseBar: 0.004 }, edges, fullS };
}

describe('the end of a flow that dies away', () => {
  it.each([
    ['on a steady street', 0.5, 0],
    ['on a street that rises', 0.2, 0.0004],
    ['on a street that sinks', 0.5, -0.0006],
    ['on a street that sinks by nearly half of the fall meanwhile', 0.195, -0.00066],
  ])('is seen %s', (_, fallBar, streetBarPerS) => {
    const { input, edges, fullS } = cistern(fallBar, streetBarPerS);
    const found = taperedEnds(input, 0, edges.beforeBar[0]!, fallBar, 0.004).at(-1);
    expect(found).toBeDefined();
    expect(Math.abs(found!.row - fullS)).toBeLessThanOrEqual(15);
  });

  it('is none where the tap runs on', () => {
    const { input, edges } = cistern(0.3, 0);
    const runsOn = input.pressureBar.map((bar, s) => (s >= 100 ? 3.7 : bar));
    expect(taperedEnds({ ...input, pressureBar: runsOn }, 0, edges.beforeBar[0]!, 0.3, 0.004)).toEqual([]);
  });

  it('may be where a hand rests for a while, or where it has shut the tap: both are told', () => {
    const { input, edges } = cistern(0.5, 0);
    const readings: readonly (readonly [number, number])[] = [
      [100, 3.5],
      [130, 3.85],
      [170, 3.86],
      [200, 4],
    ];
    const bar = (s: number) => {
      const next = readings.findIndex(([at]) => at > s);
      if (next <= 0) return 4;
      const [[a, from], [b, to]] = [readings[next - 1]!, readings[next]!];
      return from + ((to - from) * (s - a)) / (b - a);
    };
    const pressureBar = input.pressureBar.map((_, s) => bar(s));
    const ends = taperedEnds({ ...input, pressureBar }, 0, edges.beforeBar[0]!, 0.5, 0.004);
    expect(ends.map(({ row }) => row)).toEqual([expect.closeTo(130, -1), expect.closeTo(196, -1)]);
  });

  it('is seen although the hand still turned in the rows after the edge', () => {
    const { input, edges, fullS } = cistern(0.5, 0);
    const pressureBar = input.pressureBar.map((bar, s) => (s >= 100 && s < 104 ? bar - 0.4 + 0.1 * (s - 100) : bar));
    const ends = taperedEnds({ ...input, pressureBar }, 0, edges.beforeBar[0]!, 0.5, 0.004);
    expect(ends.map(({ row }) => row)).toEqual([expect.closeTo(fullS, -1)]);
  });
});

import { describe, expect, it } from 'vitest';
import { taperedEnd } from '../../../../api/analysis/supply/tapered-end.ts';

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
  return { input: { timeMs, pressureBar, to: 900, levelRows: 8, edges, noiseBar: 0.004 }, edges, fullS };
}

describe('the end of a flow that dies away', () => {
  it.each([
    ['on a steady street', 0.5, 0],
    ['on a street that rises', 0.2, 0.0004],
    ['on a street that sinks', 0.5, -0.0006],
    ['on a street that sinks by nearly half of the fall meanwhile', 0.195, -0.00066],
  ])('is seen %s', (_, fallBar, streetBarPerS) => {
    const { input, edges, fullS } = cistern(fallBar, streetBarPerS);
    const found = taperedEnd(input, 0, edges.beforeBar[0]!, fallBar, 0.004);
    expect(found).toBeDefined();
    expect(Math.abs(found!.row - fullS)).toBeLessThanOrEqual(15);
  });

  it('is none where the tap runs on', () => {
    const { input, edges } = cistern(0.3, 0);
    const runsOn = input.pressureBar.map((bar, s) => (s >= 100 ? 3.7 : bar));
    expect(taperedEnd({ ...input, pressureBar: runsOn }, 0, edges.beforeBar[0]!, 0.3, 0.004)).toBeUndefined();
  });
});

import { describe, expect, it } from 'vitest';
import { joinedByInlet } from '../../../../api/analysis/pump/joined-by-inlet.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';

/* Two runs that the pressure behind the pump shows, at 100 and 160 s, and the inlet second by second: labels by construction. */
const timeMs = Float64Array.from({ length: 400 }, (_, s) => 1000 * s);
const rows = pumpRows(
  timeMs,
  timeMs.map(() => 2.5),
  1,
  0.005,
  0,
);
const RUNS = [
  { startMs: 100_000, startRow: 100, stopMs: 140_000, stopRow: 140, cutInBar: 2.1, cutOutBar: 2.8 },
  { startMs: 160_000, startRow: 160, stopMs: 220_000, stopRow: 220, cutInBar: 2.4, cutOutBar: 3 },
];

function joined(barAt: (s: number) => number, runs = RUNS) {
  return joinedByInlet(runs, rows, { timeMs, bar: timeMs.map((ms) => barAt(ms / 1000)) });
}

describe('a stop that only the pressure behind the pump shows', () => {
  it('is none while the inlet stays pulled: it was a tap that closed and another that opened', () => {
    expect(joined((s) => (s > 100 && s <= 220 ? 0.2 : 0.9))).toEqual([
      { startMs: 100_000, startRow: 100, stopMs: 220_000, stopRow: 220, cutInBar: 2.1, cutOutBar: 3 },
    ]);
  });

  it('is none where the pump gave little for a while and then much, long before it seems to start', () => {
    const bar = (s: number) => (s <= 100 || s > 220 ? 0.9 : s > 130 && s <= 150 ? 0.8 : 0.1);
    expect(joined(bar)).toHaveLength(1);
  });

  it('is one where the inlet comes back, where the main is low anyway, where it isn’t read, or for a short rest', () => {
    const rests = (s: number) => (s > 100 && s <= 140) || (s > 160 && s <= 220);
    expect(joined((s) => (rests(s) ? 0.2 : 0.9))).toEqual(RUNS);
    // Not all the way back while a neighbour draws.
    expect(joined((s) => (rests(s) ? 0.2 : s > 140 && s <= 160 ? 0.6 : 0.9))).toEqual(RUNS);
    expect(joined(() => 0.2)).toEqual(RUNS);
    expect(joined((s) => (s > 138 && s < 170 ? Number.NaN : rests(s) ? 0.2 : 0.9))).toEqual(RUNS);
    const quick = [RUNS[0]!, { ...RUNS[1]!, startMs: 143_000, startRow: 143 }];
    expect(joined((s) => (s > 100 && s <= 220 ? 0.2 : 0.9), quick)).toEqual(quick);
  });
});

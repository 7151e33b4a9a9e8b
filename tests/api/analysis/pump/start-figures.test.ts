import { describe, expect, it } from 'vitest';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { gapsOfChannel } from '../../../../api/analysis/pump/start-figures.ts';
import { boosterHouse, START_MS } from './booster-house.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

const LOG = boosterHouse({ days: 1, leakLpm: 0.2 });

function starts(columns: { pumpOn?: Float64Array; pressureBar?: Float64Array; from?: number; length?: number }) {
  const pressureBar = Float64Array.from(columns.pressureBar ?? LOG.pressureBar);
  const pumpOn = columns.pumpOn && Float64Array.from(columns.pumpOn);
  if (columns.from !== undefined) {
    pressureBar.fill(Number.NaN, columns.from, columns.from + columns.length!);
    pumpOn?.fill(Number.NaN, columns.from, columns.from + columns.length!);
  }
  return findPump({
    timeMs: LOG.timeMs,
    pressureBar,
    ...(pumpOn ? { pumpOn } : {}),
    site: OUTLET_SITE,
    intervalS: 1,
    noiseBar: 0.005,
    quantumBar: 0.001,
  }).pumpStarts;
}

describe('the figures of a start', () => {
  it('are time on, and time off since the stop before, to the second', () => {
    for (const found of [starts({}), starts({ pumpOn: LOG.pumpOn })]) {
      expect(found.length).toBeGreaterThan(50);
      found.forEach((start, k) => {
        if (start.stop) expect(start.onS).toBe((Date.parse(start.stop) - Date.parse(start.start)) / 1000);
        const before = found[k - 1];
        if (k === 0) expect(start.offS).toBeUndefined();
        else expect(start.offS).toBe((Date.parse(start.start) - Date.parse(before!.stop!)) / 1000);
      });
    }
  });

  it('leave the time off unknown across a hole in the log, in which a run may have come and gone', () => {
    const from = 40_000;
    for (const channel of [{}, { pumpOn: LOG.pumpOn }]) {
      const found = starts({ ...channel, from, length: 3_000 });
      const after = found.find(({ start }) => Date.parse(start) >= START_MS + (from + 3_000) * 1000)!;
      expect(after.offS).toBeUndefined();
      expect(found.filter(({ offS }) => offS === undefined)).toHaveLength(2);
    }
  });

  it('hold the spin-up where a channel tells the switching, and none by the pressure alone', () => {
    expect(starts({}).every(({ spinUpS }) => spinUpS === undefined)).toBe(true);
    const spun = starts({ pumpOn: LOG.pumpOn }).flatMap(({ spinUpS }) => spinUpS ?? []);
    expect(spun.length).toBeGreaterThan(10);
    const mean = spun.reduce((sum, value) => sum + value, 0) / spun.length;
    // This house's speed comes up as 1 − e^(−t / 0.4 s): half a second or so until it gives its full flow.
    expect(mean).toBeGreaterThan(0.2);
    expect(mean).toBeLessThan(1.1);
  });

  it('tell a channel’s holes by its own rows', () => {
    const timeMs = Float64Array.from([0, 1, 2, 3, 30, 31], (s) => 1000 * s);
    const pumpOn = Float64Array.from([0, 0, Number.NaN, 0, 0, 1]);
    expect(gapsOfChannel(timeMs, pumpOn, 1000)).toEqual([{ fromMs: 3_000, toMs: 30_000 }]);
  });
});

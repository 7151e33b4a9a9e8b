import { describe, expect, it } from 'vitest';
import { interpretations } from '../../../collector/model/interpretation.ts';
import type { Calibration, ChannelSetting } from '../../../collector/model/logger.ts';
import { applyMap } from '../../../collector/model/units.ts';

const volts = (fromMs: number, fullScaleBar: number): ChannelSetting => ({
  loggerId: 'front-hall',
  channel: 'pressure',
  fromMs,
  unit: 'V',
  endPoints: [
    { raw: 0.5, bar: 0 },
    { raw: 4.5, bar: fullScaleBar },
  ],
});
const calibration = (fromMs: number): Calibration => ({
  loggerId: 'front-hall',
  channel: 'pressure',
  fromMs,
  // Two-point comparison: read 0.03 and 5.12 at true 0 and 5 bar. Arithmetic: gain 5/5.09, offset −0.03·gain.
  gain: 5 / 5.09,
  offset: (-0.03 * 5) / 5.09,
  standardUncertainty: 0.01,
  note: 'gauge',
});

describe('how values as sent are read', () => {
  it('the first setting also holds for samples older than itself', () => {
    const [only] = interpretations('pressure', 'V', [volts(1000, 10)], []);
    expect(only).toMatchObject({ fromMs: Number.NEGATIVE_INFINITY });
    expect(applyMap(only!.map!, 2.5)).toBeCloseTo(5, 12);
  });

  it('a new setting changes only what comes after it', () => {
    const found = interpretations('pressure', 'V', [volts(1000, 10), volts(5000, 4)], []);
    expect(found.map((entry) => entry.fromMs)).toEqual([Number.NEGATIVE_INFINITY, 5000]);
    expect(found.map((entry) => applyMap(entry.map!, 4.5))).toEqual([10, 4]);
  });

  it('a calibration lies over the end points from its date on', () => {
    const found = interpretations('pressure', 'bar', [], [calibration(2000)]);
    expect(applyMap(found[0]!.map!, 3)).toBe(3);
    // Check value: raw 3.00 becomes 2.91748527 (arithmetic of the two-point line).
    expect(applyMap(found[1]!.map!, 3)).toBeCloseTo(2.91748527, 8);
  });

  it('volts without end points mean no pressure', () => {
    expect(interpretations('pressure', 'V', [], [])[0]!.map).toBeUndefined();
  });
});

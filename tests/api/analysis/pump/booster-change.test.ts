import { describe, expect, it } from 'vitest';
import { boosterChanges } from '../../../../api/analysis/pump/booster-change.ts';
import type { PumpRows } from '../../../../api/analysis/pump/pump-rows.ts';

const MONDAY_MS = Date.parse('2026-03-09T00:00:00Z');
const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;

/** A reading a minute behind a pump: the street's until the fitting, then the vessel's. */
function rowsOf(hours: number, barAt: (hour: number) => number): PumpRows {
  const count = hours * 60;
  const bar = Float64Array.from({ length: count }, (_, i) => barAt(i / 60));
  const timeMs = Float64Array.from({ length: count }, (_, i) => MONDAY_MS + i * MINUTE_MS);
  const stretchFrom = Int32Array.of(0, count);
  return {
    timeMs,
    bar,
    calmBar: bar,
    stretchFrom,
    intervalMs: MINUTE_MS,
    noiseBar: 0.01,
    calmNoiseBar: 0.01,
    quantumBar: 0.001,
  };
}

/** Starts every two hours after the fitting. */
const startsAfter = (hour: number, hours: number) =>
  Array.from({ length: Math.floor((hours - hour) / 2) }, (_, k) => ({
    startMs: MONDAY_MS + (hour + 2 * k) * HOUR_MS,
    startRow: Math.ceil((hour + 2 * k) * 60),
  }));

/** The vessel between 2 and 3.7 bar, lower and lower until its pump starts again. */
const sawTooth = (hour: number) => 3.7 - 0.85 * (hour % 2);

describe('the fitting of a booster', () => {
  it('is placed at its minute where the vessel rests low for its first night, three days before the log ends', () => {
    const fittedH = 91.7;
    const rows = rowsOf(168, (hour) => (hour < fittedH ? 1.7 : hour < fittedH + 7 ? 2 : sawTooth(hour)));
    const changes = boosterChanges(rows, startsAfter(92, 168));
    expect(changes).toHaveLength(1);
    expect(Math.abs(Date.parse(changes[0]!.at) - MONDAY_MS - fittedH * HOUR_MS)).toBeLessThanOrEqual(MINUTE_MS);
  });

  it('is none where it stood for less than three days', () => {
    const rows = rowsOf(168, (hour) => (hour < 110 ? 1.7 : sawTooth(hour)));
    expect(boosterChanges(rows, startsAfter(110, 168))).toEqual([]);
  });
});

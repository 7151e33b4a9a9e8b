import { describe, expect, it } from 'vitest';
import { clockNow, noteArrival, openClockRecord } from '../../../collector/clocks/clock-record.ts';
import { withFaults } from '../../../simulator/faults.ts';
import type { FaultPlan } from '../../../simulator/scenario.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const START = Date.UTC(2026, 4, 4);
const DAYS = 2;

/** What the record makes of a simulated logger, a row a message, with the times at which each truly arrives. */
function recordOf(plans: readonly FaultPlan[], stampJitterMs = 3) {
  const count = DAYS * 86_400;
  const timeMs = Float64Array.from({ length: count }, (_, i) => START + i * 1000);
  const plain = { timeMs, pressureBar: new Float64Array(count).fill(2), flowLpm: undefined, pumpOn: undefined };
  const { rows, arrivedMs } = withFaults({ ...plain, inletBar: undefined }, plans, 1, stampJitterMs, 7);
  const record = openClockRecord();
  for (const [i, at] of arrivedMs.entries()) noteArrival(record, { arrivedMs: at + 150, newestMs: rows.timeMs[i]! });
  return record;
}

describe("a simulated logger's clock", () => {
  it('with gaps, duplicates, late batches and disorder, and a clock that is right, shows no skew and no jump', () => {
    const record = recordOf([
      { kind: 'gap', startMs: START + 2 * HOUR, endMs: START + 5 * HOUR },
      { kind: 'late', startMs: START + 8 * HOUR, endMs: START + 9 * HOUR, delayS: 1800 },
      { kind: 'late', startMs: START + 20 * HOUR, endMs: START + 26 * HOUR, delayS: 7200 },
      { kind: 'duplicate', startMs: START + 30 * HOUR, endMs: START + 31 * HOUR },
      { kind: 'out_of_order', startMs: START + 33 * HOUR, endMs: START + 34 * HOUR },
    ]);
    expect(record.jumps).toEqual([]);
    const estimate = clockNow(record)!;
    expect(Math.abs(estimate.offsetMs)).toBeLessThanOrEqual(estimate.uncertaintyMs);
  });

  it.each([
    ['ahead', HOUR],
    ['back', -HOUR],
    ['ahead by 90 s', 90_000],
    ['back by 10 min', -10 * MINUTE],
  ])('that jumps %s for two hours shows both jumps where the simulator put them', (_, byMs) => {
    const [startMs, endMs] = [START + 10 * HOUR, START + 12 * HOUR];
    const record = recordOf([{ kind: 'clock_jump', startMs, endMs, byMs }]);
    expect(record.jumps.map((jump) => Math.round((jump.byMs - byMs) / 5000) === 0)).toEqual([true, false]);
    expect(record.jumps).toHaveLength(2);
    for (const [jump, atMs, size] of [
      [record.jumps[0]!, startMs, byMs],
      [record.jumps[1]!, endMs, -byMs],
    ] as const) {
      expect(Math.abs(jump.atMs - atMs)).toBeLessThan(5000);
      expect(Math.abs(jump.byMs - size)).toBeLessThan(3000);
    }
    const estimate = clockNow(record)!;
    expect(Math.abs(estimate.offsetMs)).toBeLessThanOrEqual(estimate.uncertaintyMs);
  });
});

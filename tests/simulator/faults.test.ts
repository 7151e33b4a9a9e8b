import { describe, expect, it } from 'vitest';
import { type Rows, withFaults } from '../../simulator/faults.ts';
import type { FaultPlan } from '../../simulator/scenario.ts';

const START_MS = Date.UTC(2026, 4, 4);
const COUNT = 7200;
const at = (second: number): number => START_MS + second * 1000;

function cleanRows(): Rows {
  return {
    timeMs: Float64Array.from({ length: COUNT }, (_, i) => at(i)),
    pressureBar: Float64Array.from({ length: COUNT }, (_, i) => 2 + (i % 7) / 1000),
    flowLpm: undefined,
    pumpOn: undefined,
    inletBar: undefined,
  };
}
const hurt = (...plans: FaultPlan[]) => withFaults(cleanRows(), plans, 1, 0, 1);
const span = (label: { startMs: number; endMs: number }): [number, number] => [
  (label.startMs - START_MS) / 1000,
  (label.endMs - START_MS) / 1000,
];

describe('faults between transducer and file', () => {
  it('nothing planned changes nothing', () => {
    expect(hurt().rows).toEqual(cleanRows());
    expect(hurt().labels).toEqual([]);
  });

  it('a gap has no rows inside and is labelled from the first missing time to the next present one', () => {
    const { rows, labels } = hurt({ kind: 'gap', startMs: at(100), endMs: at(400) });
    expect(labels.map((label) => [label.kind, ...span(label)])).toEqual([['gap', 100, 400]]);
    expect(rows.timeMs.filter((time) => time >= at(100) && time < at(400))).toHaveLength(0);
    expect(rows.timeMs).toHaveLength(COUNT - 300);
  });

  it('a stuck spell repeats the last value; a broken wire reads its own', () => {
    const { rows } = hurt(
      { kind: 'stuck', startMs: at(100), endMs: at(1000) },
      { kind: 'out_of_range', startMs: at(2000), endMs: at(2060), bar: 11.25 },
    );
    expect(new Set(rows.pressureBar.slice(99, 1000)).size).toBe(1);
    expect(new Set(rows.pressureBar.slice(2000, 2060))).toEqual(new Set([11.25]));
    expect(rows.pressureBar[2060]).toBeLessThan(3);
  });

  it('a spike is one sample; a step of the zero lasts', () => {
    const { rows, labels } = hurt(
      { kind: 'spike', atMs: at(50), byBar: 2 },
      { kind: 'offset_step', atMs: at(3000), byBar: -0.4 },
    );
    const clean = cleanRows();
    const difference = rows.pressureBar.map((bar, i) => bar - clean.pressureBar[i]!);
    expect(difference[50]).toBeCloseTo(2, 9);
    expect(difference.slice(0, 50).every((d) => d === 0)).toBe(true);
    expect(difference.slice(3000).every((d) => Math.abs(d + 0.4) < 1e-9)).toBe(true);
    expect(labels.map((label) => [label.kind, ...span(label)])).toEqual([
      ['spike', 50, 50],
      ['offset_step', 3000, 3000],
    ]);
  });

  it('a clock that jumps ahead and back is labelled from the last right stamp to the last wrong one', () => {
    const { rows, labels } = hurt({ kind: 'clock_jump', startMs: at(600), endMs: at(1200), byMs: 7_200_000 });
    expect(span(labels[0]!)).toEqual([599, 1199 + 7200]);
    expect(rows.timeMs[600]).toBe(at(600 + 7200));
    expect(rows.timeMs[1200]).toBe(at(1200));
  });

  it('duplicates come twice, a late batch after its delay, with nothing lost', () => {
    const { rows, arrivedMs } = hurt(
      { kind: 'duplicate', startMs: at(100), endMs: at(160) },
      { kind: 'late', startMs: at(1000), endMs: at(1300), delayS: 600 },
    );
    expect(rows.timeMs).toHaveLength(COUNT + 60);
    expect(new Set(rows.timeMs).size).toBe(COUNT);
    const place = rows.timeMs.indexOf(at(1000));
    expect(arrivedMs[place]).toBe(at(1899));
    expect(rows.timeMs[place - 1]).toBe(at(1899));
    expect(rows.timeMs[place + 300]).toBe(at(1900));
  });

  it('disorder swaps neighbours and keeps every row', () => {
    const { rows, labels } = hurt({ kind: 'out_of_order', startMs: at(100), endMs: at(300) });
    expect(Float64Array.from(rows.timeMs).sort()).toEqual(cleanRows().timeMs);
    expect(rows.timeMs).not.toEqual(cleanRows().timeMs);
    expect(labels[0]!.kind).toBe('late');
    for (let i = 0; i < COUNT; i++) expect(Math.abs(rows.timeMs[i]! - at(i))).toBeLessThanOrEqual(1000);
  });

  it('arrival stamps are late by less than the interval and never in disorder', () => {
    const { rows } = withFaults(cleanRows(), [], 1, 400, 1);
    for (let i = 0; i < COUNT; i++) {
      expect(rows.timeMs[i]! - at(i)).toBeGreaterThan(0);
      expect(rows.timeMs[i]! - at(i)).toBeLessThanOrEqual(400);
    }
  });
});

import { describe, expect, it } from 'vitest';
import { markSpikes } from '../../../../api/analysis/quality/spikes.ts';

const marked = (pressureBar: number[], intervalS: number) => {
  const timeMs = Float64Array.from(pressureBar, (_, i) => i * intervalS * 1000);
  return markSpikes(timeMs, Float64Array.from(pressureBar), 0.003, 0, intervalS * 1000).map((fault) => fault.startMs);
};
const level = (rows: number, bar: number) => Array<number>(rows).fill(bar);

describe('spikes', () => {
  it('one row between two draws, back at the standing pressure, is none', () => {
    expect(marked([...level(40, 2.5), ...level(20, 1.6), 2.5, ...level(20, 1.6), ...level(40, 2.5)], 10)).toEqual([]);
  });

  it('what stands above everything about it is one, at ten seconds too', () => {
    expect(marked([...level(40, 2.5), 3.3, ...level(40, 2.5)], 10)).toEqual([400_000]);
  });

  it('the swing after a valve shut at once is none', () => {
    expect(marked([...level(30, 1.6), 2.5, 2.85, 2.5, 2.42, ...level(30, 2.5)], 1)).toEqual([]);
  });

  it('a row out of a level stretch is one, up or down', () => {
    expect(marked([...level(30, 2.5), 3.1, ...level(30, 2.5), 1.6, ...level(30, 2.5)], 1)).toEqual([30_000, 61_000]);
  });
});

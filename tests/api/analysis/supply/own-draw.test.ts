import { describe, expect, it } from 'vitest';
import { joinDraws } from '../../../../api/analysis/supply/own-draw.ts';

const draw = (fromS: number, toS: number, dropBar: number, meanLpm?: number) => ({
  startMs: fromS * 1000,
  endMs: toS * 1000,
  dropBar,
  ...(meanLpm === undefined ? {} : { meanLpm }),
  whole: true,
});

describe('draws that a pause joins', () => {
  it('have the mean fall and flow of the whole, in which the pause has none: volume is flow times duration', () => {
    // 60 s of 0.2 bar, 60 s of nothing, 120 s of 0.1 bar: (12 + 0 + 12) bar·s in 240 s; 10 + 0 + 12 l in 4 min.
    const [joined, ...more] = joinDraws([draw(0, 60, 0.2, 10), draw(120, 240, 0.1, 6)], 120);
    expect(more).toEqual([]);
    expect(joined).toMatchObject({ startMs: 0, endMs: 240_000, whole: true });
    expect(joined!.dropBar).toBeCloseTo(0.1, 12);
    expect(joined!.meanLpm).toBeCloseTo(22 / 4, 12);
  });

  it('stay apart from the pause that is asked for on', () => {
    expect(joinDraws([draw(0, 60, 0.2), draw(180, 240, 0.1)], 120)).toHaveLength(2);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { orderRows } from '../../../../api/analysis/quality/order-rows.ts';

const SECOND = 1000;
const range = (from: number, to: number) => Array.from({ length: to - from }, (_, i) => from + i);
const kinds = (stamps: readonly number[], values?: readonly number[]) => {
  const timeMs = Float64Array.from(stamps, (s) => s * SECOND);
  const value = Float64Array.from(values ?? stamps);
  const { rows, faults } = orderRows(timeMs, value, SECOND, 60 * SECOND);
  const ordered = rows ? Array.from(rows, (row) => stamps[row]!) : [...stamps];
  return { ordered, faults: faults.map((f) => [f.kind, f.startMs / SECOND, f.endMs / SECOND]) };
};

describe('order of arrival', () => {
  it('rows in order are left alone', () => {
    expect(kinds(range(0, 500)).faults).toEqual([]);
  });

  it('a late batch fills its gap', () => {
    const { ordered, faults } = kinds([
      ...range(0, 300),
      ...range(900, 1000),
      ...range(300, 900),
      ...range(1000, 1500),
    ]);
    expect(ordered).toEqual(range(0, 1500));
    expect(faults).toEqual([['late', 300, 900]]);
  });

  it('a batch sent twice is a duplicate, also where live rows follow without a pause', () => {
    const { ordered, faults } = kinds([...range(0, 600), ...range(400, 600), ...range(600, 900)]);
    expect(ordered).toEqual(range(0, 900));
    expect(faults).toEqual([['duplicate', 400, 600]]);
  });

  it('two late batches, each followed by live rows without a pause, leave nothing out', () => {
    const { ordered, faults } = kinds([
      ...range(0, 1000),
      ...range(2000, 2130),
      ...range(1000, 2000),
      ...range(2130, 9000),
      ...range(9500, 9520),
      ...range(9000, 9500),
      ...range(9520, 12_000),
    ]);
    expect(ordered).toEqual(range(0, 12_000));
    expect(faults).toEqual([
      ['late', 1000, 2000],
      ['late', 9000, 9500],
    ]);
  });

  it('a batch sent twice is no clock set back, though it is as long as an earlier gap', () => {
    const { ordered, faults } = kinds([
      ...range(0, 1000),
      ...range(1300, 20_000),
      ...range(19_700, 20_000),
      ...range(20_000, 21_000),
    ]);
    expect(ordered).toEqual([...range(0, 1000), ...range(1300, 21_000)]);
    expect(faults).toEqual([['duplicate', 19_700, 20_000]]);
  });

  it('nor is it where live rows came in between', () => {
    const { ordered, faults } = kinds([
      ...range(0, 1000),
      ...range(1300, 20_010),
      ...range(19_710, 20_000),
      ...range(20_010, 21_000),
    ]);
    expect(ordered).toEqual([...range(0, 1000), ...range(1300, 21_000)]);
    expect(faults).toEqual([['duplicate', 19_710, 20_000]]);
  });

  it('a clock that ran ahead and was set back costs only its own rows', () => {
    const { ordered, faults } = kinds([...range(0, 600), ...range(5000, 5300), ...range(900, 1500)]);
    expect(ordered).toEqual([...range(0, 600), ...range(900, 1500)]);
    expect(faults).toEqual([['clock_jump', 599, 5299]]);
  });

  it('a clock that went back over other readings does too', () => {
    const stamps = [...range(3000, 4000), ...range(3200, 3500), ...range(4300, 5000)];
    const { ordered, faults } = kinds(
      stamps,
      stamps.map((_, i) => i),
    );
    expect(ordered).toEqual([...range(3000, 4000), ...range(4300, 5000)]);
    expect(faults.map(([kind]) => kind)).toEqual(['clock_jump']);
  });

  it('swapped rows come out in order', () => {
    const { ordered, faults } = kinds([...range(0, 100), 101, 100, 103, 102, ...range(104, 200)]);
    expect(ordered).toEqual(range(0, 200));
    expect(faults).toEqual([['late', 100, 103]]);
  });

  it('whatever arrives, the result ascends and holds no stamp twice', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 5000 }), { minLength: 1, maxLength: 300 }), (stamps) => {
        const { ordered } = kinds(stamps);
        for (let i = 1; i < ordered.length; i++) expect(ordered[i]!).toBeGreaterThan(ordered[i - 1]!);
      }),
    );
  });
});

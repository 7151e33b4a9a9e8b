import { describe, expect, it } from 'vitest';
import { findGaps, gapLimitMs, gapsOutside } from '../../../../api/analysis/quality/gaps.ts';
import { orderRows } from '../../../../api/analysis/quality/order-rows.ts';
import { random } from '../pump/seeded-random.ts';

/*
 * A log of whole intervals under a clock that is wrong for a while. The fault is from the last right stamp to the last
 * wrong one (definitions), the rows under the wrong clock are left out and no others, and a gap is where rows are missing.
 */
const DAY = 86_400;
const HOURS = 3600;

interface Row {
  readonly index: number;
  readonly atS: number;
  readonly value: number;
}

interface Wrong {
  readonly from: number;
  readonly to: number;
  readonly byS: number;
}

function log(rows: number, intervalS: number): Row[] {
  const next = random(1);
  return Array.from({ length: rows }, (_, index) => ({ index, atS: index * intervalS, value: next() }));
}

const under = ({ from, to, byS }: Wrong, row: Row): Row =>
  row.index >= from && row.index < to ? { ...row, atS: row.atS + byS } : row;

function judged(rows: readonly Row[], intervalS: number) {
  const timeMs = Float64Array.from(rows, (row) => row.atS * 1000);
  const value = Float64Array.from(rows, (row) => row.value);
  const intervalMs = intervalS * 1000;
  const { rows: order, faults, explained } = orderRows(timeMs, value, intervalMs, gapLimitMs(intervalMs));
  const used = order ? Array.from(order, (row) => rows[row]!) : rows;
  const gaps = findGaps(
    Float64Array.from(used, (row) => row.atS * 1000),
    intervalMs,
  );
  return {
    used: used.map((row) => row.index),
    faults: [...faults, ...gapsOutside(gaps, explained, intervalMs)].map((fault) => [
      fault.kind,
      fault.startMs / 1000,
      fault.endMs / 1000,
    ]),
  };
}

const indexes = (...spans: (readonly [number, number])[]) =>
  spans.flatMap(([from, to]) => Array.from({ length: to - from }, (_, i) => from + i));

function expected({ from, to, byS }: Wrong, intervalS: number): ['clock_jump', number, number] {
  const right = (from - 1) * intervalS;
  const wrong = (to - 1) * intervalS + byS;
  return ['clock_jump', Math.min(right, wrong), Math.max(right, wrong)];
}

describe('a clock that was wrong for a while', () => {
  it.each([
    ['back by half an hour, wrong for three hours', 1, 3 * HOURS, -1800],
    ['back by half an hour, wrong for a quarter', 1, 900, -1800],
    ['back by two minutes', 1, 2 * HOURS, -120],
    ['back at a reading every ten seconds, to stamps between those there', 10, 360, -2523],
    ['back by ten minutes at a reading a minute', 60, 200, -600],
    ['back by days', 1, 2 * HOURS, -20 * DAY],
    ['ahead by half an hour, wrong for three hours', 1, 3 * HOURS, 1800],
    ['ahead by two minutes', 1, 2 * HOURS, 120],
    ['ahead by two minutes for one reading', 1, 1, 120],
    ['ahead at a reading every ten seconds, to stamps between those there', 10, 360, 2523],
    ['ahead by ten minutes at a reading a minute', 60, 200, 600],
    ['ahead by days', 1, 2 * HOURS, 20 * DAY],
    ['ahead by years', 1, 2 * HOURS, 3000 * DAY],
    ['back to where it began to count', 1, 2 * HOURS, -9000 * DAY],
  ])('%s', (_, intervalS, wrongRows, byS) => {
    const wrong = { from: 4000, to: 4000 + wrongRows, byS };
    const rows = log(8000 + wrongRows, intervalS);
    const { used, faults } = judged(
      rows.map((row) => under(wrong, row)),
      intervalS,
    );
    expect(faults).toEqual([expected(wrong, intervalS)]);
    expect(used).toEqual(indexes([0, wrong.from], [wrong.to, rows.length]));
  });

  it('costs no batch that came twice just before, and none that came late just after', () => {
    const wrong = { from: 4000, to: 9000, byS: -1800 };
    const rows = log(12_000, 1).map((row) => under(wrong, row));
    const { used, faults } = judged(
      [
        ...rows.slice(0, 4000),
        ...rows.slice(3940, 4000),
        ...rows.slice(4000, 9100),
        ...rows.slice(9300, 9400),
        ...rows.slice(9100, 9300),
        ...rows.slice(9400),
      ],
      1,
    );
    expect(faults).toEqual([expected(wrong, 1), ['late', 9100, 9300], ['duplicate', 3940, 4000]]);
    expect(used).toEqual(indexes([0, 4000], [9000, 12_000]));
  });

  it.each([-1800, 1800])('takes what came twice under it with it, by %s s', (byS) => {
    const wrong = { from: 4000, to: 9000, byS };
    const rows = log(12_000, 1).map((row) => under(wrong, row));
    const { used, faults } = judged([...rows.slice(0, 7000), ...rows.slice(6940)], 1);
    expect(faults).toEqual([expected(wrong, 1)]);
    expect(used).toEqual(indexes([0, 4000], [9000, 12_000]));
  });

  it.each([-9000 * DAY, -20 * DAY, -1800, 20 * DAY])('leaves a gap at its return to be one, by %s s', (byS) => {
    const wrong = { from: 4000, to: 4900, byS };
    const rows = log(12_000, 1).map((row) => under(wrong, row));
    const { used, faults } = judged([...rows.slice(0, 4900), ...rows.slice(5500)], 1);
    expect(faults).toEqual([expected(wrong, 1), ['gap', 4900, 5500]]);
    expect(used).toEqual(indexes([0, 4000], [5500, 12_000]));
  });

  it('leaves gaps before and after it to be gaps', () => {
    const wrong = { from: 4000, to: 9000, byS: -1800 };
    const rows = log(12_000, 1).map((row) => under(wrong, row));
    const { faults } = judged([...rows.slice(0, 2000), ...rows.slice(3000, 10_000), ...rows.slice(11_000)], 1);
    expect(faults).toEqual([expected(wrong, 1), ['gap', 2000, 3000], ['gap', 10_000, 11_000]]);
  });

  it('also before the first right stamp, years away', () => {
    const rows = log(9000, 1).map((row) => under({ from: 0, to: 600, byS: -9000 * DAY }, row));
    const { used, faults } = judged(rows, 1);
    expect(faults).toEqual([['clock_jump', -9000 * DAY, -9000 * DAY + 599]]);
    expect(used).toEqual(indexes([600, 9000]));
  });

  it('that stays set back keeps the rows that came first at a stamp, and those beyond', () => {
    const rows = log(9000, 1).map((row) => under({ from: 4000, to: 9000, byS: -1800 }, row));
    const { used, faults } = judged(rows, 1);
    expect(faults).toEqual([['clock_jump', 2200, 3999]]);
    expect(used).toEqual(indexes([0, 4000], [5800, 9000]));
  });

  it('is no matter of a gap as long as an earlier step back, weeks later', () => {
    const rows = log(30_000, 60).map((row) => under({ from: 1000, to: 30_000, byS: -3600 }, row));
    const { used } = judged([...rows.slice(0, 25_000), ...rows.slice(25_060)], 60);
    expect(used).toEqual(indexes([0, 1000], [1060, 25_000], [25_060, 30_000]));
  });

  it('is not told from a quiet main that was sent twice', () => {
    const rows = log(9000, 1).map((row) => ({ ...row, value: 3 }));
    const { faults } = judged([...rows.slice(0, 4000), ...rows.slice(3000)], 1);
    expect(faults).toEqual([['duplicate', 3000, 4000]]);
  });
});

describe('rows sent in batches of a minute', () => {
  it('and each sent twice are duplicates only', () => {
    const rows = log(3000, 1);
    const twice = indexes([1000, 1600]).flatMap((_, i) =>
      i % 60 === 0 ? [...rows.slice(1000 + i, 1060 + i), ...rows.slice(1000 + i, 1060 + i)] : [],
    );
    const { used, faults } = judged([...rows.slice(0, 1000), ...twice, ...rows.slice(1600)], 1);
    expect(faults).toEqual([['duplicate', 1000, 1600]]);
    expect(used).toEqual(indexes([0, 3000]));
  });

  it('that came late and ran into a gap are no wrong clock', () => {
    const rows = log(3000, 1);
    const arrived = [...rows.slice(0, 1000), ...rows.slice(1300, 1400), ...rows.slice(1000, 1300), ...rows.slice(1700)];
    const { used, faults } = judged(arrived, 1);
    expect(faults).toEqual([
      ['late', 1000, 1300],
      ['gap', 1400, 1700],
    ]);
    expect(used).toEqual(indexes([0, 1400], [1700, 3000]));
  });
});

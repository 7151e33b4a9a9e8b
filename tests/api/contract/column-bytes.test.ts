import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { columnBytes, readColumnBytes } from '../../../api/contract/column-bytes.ts';
import type { SeriesResponse } from '../../../api/contract/payloads.ts';

const value = fc.oneof(
  fc.integer({ min: -1_000, max: 40_000 }).map((millibar) => millibar / 1000),
  fc.double({ noNaN: true, noDefaultInfinity: true }),
);
const row = fc.record({ min: value, max: value, mean: value, count: fc.integer({ min: 1, max: 0xffffffff }) });
const rows = fc.array(row, { maxLength: 50 });
const times = fc.uniqueArray(fc.integer({ min: 0, max: 8_640_000_000_000_000 }), { minLength: 50, maxLength: 50 });

function seriesOf(atMs: readonly number[], list: readonly { min: number; max: number; mean: number; count: number }[]) {
  const column = (name: 'min' | 'max' | 'mean' | 'count') => list.map((entry) => entry[name]);
  return {
    logger: 'front-hall',
    channel: 'pressure',
    unit: 'bar',
    resolution: 'minute',
    stepMs: 60_000,
    time: atMs.slice(0, list.length).sort((a, b) => a - b),
    min: column('min'),
    max: column('max'),
    mean: column('mean'),
    count: column('count'),
  } as SeriesResponse;
}

describe('columns as bytes', () => {
  it('say what the JSON says: times and counts exactly, values to seven digits', () => {
    fc.assert(
      fc.property(times, rows, (atMs, list) => {
        const series = seriesOf(atMs, list);
        const json = JSON.parse(JSON.stringify(series)) as SeriesResponse;
        const read = readColumnBytes(columnBytes(series).buffer);
        const { min, max, mean, ...exact } = read;
        expect(exact).toEqual({ ...json, min: undefined, max: undefined, mean: undefined });
        for (const name of ['min', 'max', 'mean'] as const) {
          expect(read[name].length).toBe(json[name].length);
          // Half a unit in the 24th binary digit (IEEE 754, binary32), or the smallest number where there are none left.
          read[name].forEach((seen, i) => {
            expect(Math.abs(seen - json[name][i]!)).toBeLessThanOrEqual(
              Math.max(Math.abs(json[name][i]!) * 2 ** -24, 1e-45),
            );
          });
        }
      }),
    );
  });

  it('show every pressure to a hundredth of a millibar', () => {
    let worst = 0;
    for (let millibar = -1_000; millibar <= 40_000; millibar++) {
      const bar = millibar / 1000;
      worst = Math.max(worst, Math.abs(Math.fround(bar) - bar));
    }
    expect(worst).toBeLessThan(0.000_01);
  });

  it('can be read by hand from the layout as it is described', () => {
    const bytes = columnBytes(
      seriesOf(
        [1_000, 2_500],
        [
          { min: 1.5, max: 2, mean: 1.75, count: 3 },
          { min: 1.25, max: 1.5, mean: 1.375, count: 4_000_000_000 },
        ],
      ),
    );
    const view = new DataView(bytes.buffer);
    expect(Buffer.from(bytes.subarray(0, 4)).toString('latin1')).toBe('MDC1');
    const headerBytes = view.getUint32(4, true);
    const start = 8 + headerBytes;
    expect(start % 8).toBe(0);
    const header = JSON.parse(Buffer.from(bytes.subarray(8, start)).toString('utf8'));
    expect(header).toMatchObject({ channel: 'pressure', unit: 'bar', resolution: 'minute', stepMs: 60_000 });
    const place = (name: string) => header.columns.find((column: { name: string }) => column.name === name);
    for (const column of header.columns) expect(column.offset % 8).toBe(0);
    expect(place('time')).toMatchObject({ type: 'float64', length: 2 });
    expect(view.getFloat64(start + place('time').offset + 8, true)).toBe(2_500);
    expect(place('max')).toMatchObject({ type: 'float32', length: 2 });
    expect(view.getFloat32(start + place('max').offset + 4, true)).toBe(1.5);
    expect(place('count')).toMatchObject({ type: 'uint32', length: 2 });
    expect(view.getUint32(start + place('count').offset + 4, true)).toBe(4_000_000_000);
  });

  it('hold columns that are one and the same once', () => {
    const time = Array.from({ length: 1_000 }, (_, second) => second * 1_000);
    const pressure = time.map((atMs) => atMs / 1_000_000);
    const series = {
      ...seriesOf([], []),
      time,
      min: pressure,
      max: pressure,
      mean: pressure,
      count: time.map(() => 1),
    };
    const bytes = columnBytes(series);
    expect(bytes.length).toBeLessThan(1_000 * (8 + 4 + 4) + 1_000);
    expect(readColumnBytes(bytes.buffer).mean).toHaveLength(1_000);
  });

  it('of any other bytes are refused with a RangeError or a SyntaxError, never read wrongly nor without end', () => {
    const good = columnBytes(seriesOf([1_000], [{ min: 1, max: 1, mean: 1, count: 1 }]));
    fc.assert(
      fc.property(fc.nat(good.length - 1), fc.nat(255), fc.nat(good.length), (at, byte, length) => {
        const damaged = good.slice(0, length);
        if (at < length) damaged[at] = byte;
        try {
          const read = readColumnBytes(damaged.buffer);
          for (const name of ['time', 'min', 'max', 'mean', 'count'] as const)
            expect(read[name].length).toBeLessThanOrEqual(good.length);
        } catch (error) {
          expect(error instanceof RangeError || error instanceof SyntaxError, String(error)).toBe(true);
        }
      }),
      { numRuns: 1_000 },
    );
  });
});

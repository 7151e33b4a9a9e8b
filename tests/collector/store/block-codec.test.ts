import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { SentRun } from '../../../collector/model/series.ts';
import { decodeRuns, encodeRuns } from '../../../collector/store/block-codec.ts';
import { normal, START_MS, seededChance } from './store-under-test.ts';

const HOUR_MS = 3_600_000;

/** Any finite value as a message may bring it: nine significant digits, minus nought as nought. */
const sentValue = fc
  .oneof(
    fc.double({ noNaN: true, noDefaultInfinity: true }),
    fc.double({ min: -100, max: 100, noNaN: true }),
    fc.integer({ min: 0, max: 10_000 }).map((millibars) => millibars / 1000),
  )
  .map((value) => Number(value.toPrecision(9)) + 0)
  .filter(Number.isFinite);

const times = fc
  .uniqueArray(fc.integer({ min: 0, max: HOUR_MS - 1 }), { minLength: 1, maxLength: 200 })
  .map((offsets) => offsets.sort((a, b) => a - b));

const jitteredGrid = fc
  .tuple(
    fc.integer({ min: 1, max: 10_000 }),
    fc.array(fc.integer({ min: 0, max: 9 }), { minLength: 1, maxLength: 200 }),
  )
  .map(([step, jitter]) => jitter.map((offset, i) => i * (step + 9) + offset))
  .map((offsets) => offsets.filter((offset) => offset < HOUR_MS));

function runOf(
  unit: string,
  offsets: readonly number[],
  values: readonly number[],
  flags?: readonly number[],
): SentRun {
  return {
    unit,
    timeMs: Float64Array.from(offsets, (offset) => START_MS + offset),
    value: Float64Array.from(offsets, (_, i) => values[i % values.length]!),
    flags: flags && Uint8Array.from(offsets, (_, i) => flags[i % flags.length]!),
  };
}

function plain(runs: readonly SentRun[]) {
  return runs.map((run) => ({
    unit: run.unit,
    timeMs: [...run.timeMs],
    value: [...run.value],
    flags: run.flags?.some((bits) => bits !== 0) ? [...run.flags] : undefined,
  }));
}

describe('an hour as bytes', () => {
  for (const packing of ['deflated', 'plain'] as const) {
    test(`comes back exactly, ${packing}: any finite values, any whole milliseconds, any flags, any units`, () => {
      fc.assert(
        fc.property(
          fc.oneof(times, jitteredGrid),
          fc.array(sentValue, { minLength: 1, maxLength: 50 }),
          fc.option(fc.array(fc.integer({ min: 0, max: 3 }), { minLength: 1, maxLength: 50 }), { nil: undefined }),
          fc.constantFrom('bar', 'mH2O', 'l/min', '°'),
          fc.nat(),
          (offsets, values, flags, unit, cutAt) => {
            const cut = cutAt % (offsets.length + 1);
            const runs = [
              runOf(unit, offsets.slice(0, cut), values, flags),
              runOf('V', offsets.slice(cut), values),
            ].filter((run) => run.timeMs.length > 0);
            expect(plain(decodeRuns(START_MS, encodeRuns(START_MS, runs, packing)))).toEqual(plain(runs));
          },
        ),
        { numRuns: 400 },
      );
    });
  }

  test('comes back exactly at the ends of what floats hold', () => {
    const values = [Number.MAX_VALUE, -Number.MAX_VALUE, Number.MIN_VALUE, 2 ** 53, -(2 ** 53), 1e-300, 0, 1 / 3];
    const run = runOf('bar', [0, 1, 2, 3, 4, 5, 6, 7], values);
    expect(plain(decodeRuns(START_MS, encodeRuns(START_MS, [run], 'deflated')))).toEqual(plain([run]));
    const huge = runOf('Pa', [0, 3_599_999], [1e15, -1e15]);
    expect(plain(decodeRuns(START_MS, encodeRuns(START_MS, [huge], 'deflated')))).toEqual(plain([huge]));
  });

  test('that is damaged is refused with an error, never with memory or endless work', () => {
    const bytes = encodeRuns(
      START_MS,
      [
        runOf(
          'bar',
          Array.from({ length: 300 }, (_, i) => i * 1007),
          [1.5, 2.5],
        ),
      ],
      'deflated',
    );
    expect(() => decodeRuns(START_MS, bytes.slice(0, 9))).toThrow();
    expect(() => decodeRuns(START_MS, Uint8Array.of(1, 255, 255, 255, 127))).toThrow();
    expect(() => decodeRuns(START_MS, Uint8Array.of(9))).toThrow(/unknown block format 9/);
    fc.assert(
      fc.property(fc.nat(bytes.length - 1), fc.integer({ min: 1, max: 255 }), (at, change) => {
        const damaged = bytes.slice();
        damaged[at] = damaged[at]! ^ change;
        try {
          decodeRuns(START_MS, damaged);
        } catch (error) {
          expect(error).toBeInstanceOf(Error);
        }
      }),
    );
  });
});

describe('what an hour costs', () => {
  const second = Array.from({ length: 3600 }, (_, i) => i * 1000);
  const chance = seededChance(1);
  const bytesOf = (offsets: readonly number[], values: readonly number[]) =>
    encodeRuns(START_MS, [runOf('bar', offsets, values)], 'deflated').length;
  const values = second.map(() => Math.round(4200 + 16 * chance()) / 1000);
  const onGrid = bytesOf(second, values);

  test('times on a grid cost nothing a sample', () => {
    const constant = bytesOf(second, [2.5]);
    expect(constant).toBeLessThan(60);
  });

  test('a gap in the grid costs a few bytes, not a byte a sample', () => {
    const gap = second.filter((offset) => offset < 1_000_000 || offset > 1_500_000);
    expect(bytesOf(gap, values)).toBeLessThan(onGrid + 40);
  });

  test('jitter of 3 ms costs about what its entropy is, 0.45 byte a sample, and at most 0.6', () => {
    // Entropy of a normal distribution of 3 ms in steps of 1 ms: log2(3 · sqrt(2πe)) = 3.63 bits.
    const jittered = second.map((offset) => offset + 20 + Math.round(3 * normal(chance)));
    const cost = (bytesOf(jittered, values) - onGrid) / second.length;
    expect(cost).toBeGreaterThan(0.3);
    expect(cost).toBeLessThan(0.6);
  });

  test('a coarse converter costs no more than a fine one with the same codes', () => {
    const codes = second.map(() => 400 + Math.floor(16 * chance()));
    const fine = bytesOf(
      second,
      codes.map((code) => code / 1000),
    );
    const coarse = bytesOf(
      second,
      codes.map((code) => (code * 5) / 1000),
    );
    expect(coarse).toBeLessThanOrEqual(fine + 4);
  });
});

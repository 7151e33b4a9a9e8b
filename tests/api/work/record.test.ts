import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { askedSpan, closedSpan } from '../../../api/work/asked-span.ts';
import {
  CALIBRATION_ENDED,
  calibrationInForce,
  sensorStandardUncertaintyBar,
  settingInForce,
} from '../../../api/work/calibration-in-force.ts';
import { createFindingsCache } from '../../../api/work/findings-cache.ts';
import { compareWithGauge } from '../../../api/work/gauge-comparison.ts';
import { joinColumns, nearestValues, usualIntervalMs } from '../../../api/work/join-columns.ts';
import { lastHeardMs, loggerState } from '../../../api/work/logger-state.ts';
import { clipStretch, recordStretches } from '../../../api/work/record-stretch.ts';
import type { Placement } from '../../../collector/model/logger.ts';
import type { Series } from '../../../collector/model/series.ts';

const seriesOf = (rows: readonly (readonly [number, number])[]): Series => ({
  timeMs: Float64Array.from(rows, ([time]) => time),
  value: Float64Array.from(rows, ([, value]) => value),
});

describe('stays of a logger', () => {
  const placement = (fromMs: number, siteId: string | undefined, height = 0): Placement => ({
    loggerId: 'a',
    fromMs,
    siteId,
    position: 'incoming',
    heightAboveSupplyPointM: height,
  });
  it('end where the next begins; another height alone is the same stay', () => {
    const stays = recordStretches([placement(30, 'south'), placement(10, 'north'), placement(20, 'north', 2)]);
    expect(stays.map(({ siteId, fromMs, toMs, heights }) => [siteId, fromMs, toMs, heights.length])).toEqual([
      ['north', 10, 30, 2],
      ['south', 30, Number.POSITIVE_INFINITY, 1],
    ]);
    expect(clipStretch(stays[0]!, 0, 15)).toMatchObject({ fromMs: 10, toMs: 15 });
    expect(clipStretch(stays[0]!, 30, 40)).toBeUndefined();
  });
  it('hold every moment once: no sample belongs to two houses', () => {
    const placements = fc.array(
      fc.tuple(
        fc.integer({ min: 0, max: 50 }),
        fc.constantFrom('north', 'south', undefined),
        fc.integer({ min: 0, max: 2 }),
      ),
      { maxLength: 8 },
    );
    fc.assert(
      fc.property(placements, fc.integer({ min: 0, max: 60 }), (rows, atMs) => {
        const all = rows.map(([fromMs, siteId, height]) => placement(fromMs, siteId, height));
        const holding = recordStretches(all).filter((stay) => stay.fromMs <= atMs && atMs < stay.toMs);
        return holding.length === (all.some((entry) => entry.fromMs <= atMs) ? 1 : 0);
      }),
    );
  });
});

describe('rows from channels of different times', () => {
  it('take the nearest reading within half an interval, else none', () => {
    const flow = seriesOf([
      [1000, 1],
      [2000, 2],
      [9000, 9],
    ]);
    expect([...nearestValues(Float64Array.of(400, 600, 1400, 1500, 1600, 4000, 9100), flow, 500)]).toEqual([
      Number.NaN,
      1,
      1,
      1,
      2,
      Number.NaN,
      9,
    ]);
  });
  it('agree with looking at every reading, the slow way', () => {
    const rows = fc
      .uniqueArray(fc.integer({ min: 0, max: 200 }), { maxLength: 30 })
      .map((times) => times.sort((a, b) => a - b));
    fc.assert(
      fc.property(rows, rows, fc.integer({ min: 0, max: 20 }), (times, readings, within) => {
        const series = seriesOf(readings.map((time) => [time, time]));
        const slow = times.map((time) => {
          const near = readings.filter((reading) => Math.abs(reading - time) <= within);
          near.sort((a, b) => Math.abs(a - time) - Math.abs(b - time) || a - b);
          return near[0] ?? Number.NaN;
        });
        expect([...nearestValues(Float64Array.from(times), series, within)]).toEqual(slow);
      }),
    );
  });
  it('stand on pressure, or on the pump where there is no pressure', () => {
    const empty = seriesOf([]);
    const pump = seriesOf([
      [0, 1],
      [1000, 0],
    ]);
    const columns = joinColumns({ pressure: empty, flow: undefined, pump, inlet: undefined });
    expect([...columns.timeMs]).toEqual([0, 1000]);
    expect([...columns.pressureBar]).toEqual([Number.NaN, Number.NaN]);
    expect([...columns.pumpOn!]).toEqual([1, 0]);
    expect(joinColumns({ pressure: empty, flow: empty, pump: undefined, inlet: undefined }).timeMs).toHaveLength(0);
  });
  it('a channel of ten seconds reaches every row of one second', () => {
    const pressure = seriesOf(Array.from({ length: 21 }, (_, s) => [s * 1000, 2] as const));
    const flow = seriesOf([
      [0, 5],
      [10_000, 6],
      [20_000, 7],
    ]);
    expect(usualIntervalMs(flow.timeMs)).toBe(10_000);
    const joined = joinColumns({ pressure, flow, pump: undefined, inlet: undefined }).flowLpm!;
    expect(joined.every((value) => !Number.isNaN(value))).toBe(true);
    expect([joined[5], joined[6], joined[15]]).toEqual([5, 6, 6]);
  });
});

describe('spans', () => {
  const DAY = 86_400_000;
  it('are filled from the record, the newest where it is longer than is taken', () => {
    const recorded = { firstMs: 0, lastMs: 10 * DAY - 1 };
    expect(closedSpan(askedSpan({}), recorded, 400 * DAY, 0)).toEqual({ fromMs: 0, toMs: 10 * DAY });
    expect(closedSpan(askedSpan({}), recorded, 3 * DAY, 0)).toEqual({ fromMs: 7 * DAY, toMs: 10 * DAY });
    expect(closedSpan(askedSpan({ to: '1970-01-03T00:00:00Z' }), recorded, 400 * DAY, 0)).toEqual({
      fromMs: 0,
      toMs: 2 * DAY,
    });
    expect(closedSpan(askedSpan({ from: '1970-01-03T00:00:00Z' }), recorded, 3 * DAY, 0)).toEqual({
      fromMs: 2 * DAY,
      toMs: 5 * DAY,
    });
  });
  it('are never empty, whatever is asked and recorded', () => {
    const time = fc.option(fc.integer({ min: 0, max: 1000 * DAY }), { nil: undefined });
    fc.assert(
      fc.property(
        time,
        time,
        fc.option(fc.tuple(fc.integer({ min: 0, max: 1000 * DAY }), fc.integer({ min: 0, max: DAY }))),
        (fromMs, toMs, record) => {
          fc.pre(fromMs === undefined || toMs === undefined || (fromMs < toMs && toMs - fromMs <= 400 * DAY));
          const recorded = record ? { firstMs: record[0], lastMs: record[0] + record[1] } : undefined;
          const span = closedSpan({ fromMs, toMs }, recorded, 400 * DAY, 500 * DAY);
          return span.fromMs < span.toMs && span.toMs - span.fromMs <= 400 * DAY;
        },
      ),
    );
  });
});

describe('what a sensor is known by', () => {
  const calibration = (fromMs: number, note = '') => ({
    loggerId: 'a',
    channel: 'pressure' as const,
    fromMs,
    gain: 1,
    offset: 0,
    standardUncertainty: 0.02,
    note,
  });
  it('is the last calibration, unless a move ended it', () => {
    const all = [calibration(20, CALIBRATION_ENDED), calibration(10), calibration(30)];
    expect([5, 15, 25, 35].map((at) => calibrationInForce(all, 'pressure', at)?.fromMs)).toEqual([
      undefined,
      10,
      undefined,
      30,
    ]);
  });
  it('is the first setting for what is older than itself', () => {
    const setting = (fromMs: number) => ({ loggerId: 'a', channel: 'pressure' as const, fromMs, unit: 'bar' });
    expect([5, 15, 25].map((at) => settingInForce([setting(20), setting(10)], 'pressure', at)?.fromMs)).toEqual([
      10, 10, 20,
    ]);
  });
  it('1 % of 10 bar without more: 0.0577 bar, U near 0.12 (a/√3, JCGM 100:2008 4.3.7)', () => {
    expect(sensorStandardUncertaintyBar(undefined, undefined)).toBeCloseTo(0.1 / Math.sqrt(3), 12);
    expect(sensorStandardUncertaintyBar(undefined, calibration(0))).toBe(0.02);
  });
  it('a comparison at two pressures is the line through both', () => {
    const line = fc.record({
      gain: fc.double({ min: 0.6, max: 1.9, noNaN: true }),
      offset: fc.double({ min: -1, max: 1, noNaN: true }),
    });
    fc.assert(
      fc.property(line, ({ gain, offset }) => {
        const points = [0.2, 3].map((readBar) => ({ readBar, gaugeBar: gain * readBar + offset }));
        const known = { gainInForce: 1, gaugeAccuracyBar: 0.05, sensorStandardUncertaintyBar: 0.0577 };
        const found = compareWithGauge(points, known);
        expect(found.gain).toBeCloseTo(gain, 9);
        expect(found.offset).toBeCloseTo(offset, 9);
        // Better than the sensor by itself, never better than the gauge.
        expect(found.standardUncertainty).toBeLessThan(0.0577);
        expect(found.standardUncertainty).toBeGreaterThanOrEqual(0.05 / Math.sqrt(3));
      }),
    );
  });
});

describe('the state of a logger', () => {
  const facts = {
    presence: { loggerId: 'a', state: 'unknown' as const, sinceMs: 0 },
    lastHeardMs: 1_000_000,
    intervalS: 1,
    unreadableUnit: undefined,
    storeFailure: undefined,
    nowMs: 1_001_000,
  };
  it.each([
    ['logging', {}],
    ['never_heard', { lastHeardMs: undefined }],
    ['silent', { nowMs: 1_000_000 + 11 * 60_000 }],
    ['logging', { nowMs: 1_000_000 + 11 * 60_000, intervalS: 900 }],
    ['logging', { presence: { loggerId: 'a', state: 'offline' as const, sinceMs: 1_000_500 } }],
    [
      'silent',
      { presence: { loggerId: 'a', state: 'offline' as const, sinceMs: 1_000_500 }, nowMs: 1_000_000 + 121_000 },
    ],
    ['logging', { presence: { loggerId: 'a', state: 'offline' as const, sinceMs: 999_000 } }],
    ['not_readable', { unreadableUnit: 'V' }],
    ['store_failing', { storeFailure: 'the disk is full' }],
  ])('is %s', (code, changes) => {
    expect(loggerState({ ...facts, ...changes }).stateCode).toBe(code);
  });
  it('tells of its clock while it logs', () => {
    expect(loggerState({ ...facts, clock: 'its clock is some 4 min behind' })).toEqual({
      stateCode: 'logging',
      state: 'logging, but its clock is some 4 min behind',
    });
  });
  it('says since when it is silent, and why storing fails', () => {
    expect(loggerState({ ...facts, lastHeardMs: 0, nowMs: 1e9 }).state).toBe('silent since 1970-01-01T00:00:00Z');
    expect(loggerState({ ...facts, storeFailure: 'the disk is full' }).state).toBe('storing fails: the disk is full');
  });
  it('is not shown as at work by a file of last year', () => {
    expect(lastHeardMs({ atMs: 0, arrivedMs: 1e10 })).toBe(0);
    expect(lastHeardMs({ atMs: 0, arrivedMs: 3_600_000 })).toBe(3_600_000);
  });
});

describe('findings that are kept', () => {
  it('are made once for two who ask at once, and again once dropped for room', async () => {
    const cache = createFindingsCache(100);
    let made = 0;
    const make = (bytes: number) => async () => {
      made++;
      return new Uint8Array(bytes);
    };
    await Promise.all([cache.get('a', make(60)), cache.get('a', make(60))]);
    await cache.get('a', make(60));
    expect(made).toBe(1);
    await cache.get('b', make(60));
    await cache.get('a', make(60));
    expect(made).toBe(3);
  });
  it('a fault is not kept', async () => {
    const cache = createFindingsCache();
    await expect(cache.get('a', async () => Promise.reject(new Error('no')))).rejects.toThrow('no');
    expect(await cache.get('a', async () => new Uint8Array(1))).toHaveLength(1);
  });
});

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { SAMPLE_FLAG } from '../../../collector/model/series.ts';
import { convertedSummaries, readColumns } from '../../../collector/store/converted.ts';
import type { Store } from '../../../collector/store/port.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { HOUR_MS, piece, START_MS, scratchFolder, sealAll, standingClock } from './store-under-test.ts';

describe('reading in canonical units', () => {
  let store: Store;
  let scratch: ReturnType<typeof scratchFolder>;
  beforeEach(async () => {
    scratch = scratchFolder();
    store = await openSqliteStore({ folder: scratch.folder, clock: standingClock() });
  });
  afterEach(async () => {
    await store.close();
    scratch.remove();
  });

  const read = (options = {}) =>
    readColumns(store, 'front-hall', 'pressure', START_MS, START_MS + 24 * HOUR_MS, options);
  const setEndPoints = (fromMs: number, topBar: number) =>
    store.addChannelSetting({
      loggerId: 'front-hall',
      channel: 'pressure',
      fromMs: START_MS + fromMs,
      unit: 'V',
      endPoints: [
        { raw: 0.5, bar: 0 },
        { raw: 4.5, bar: topBar },
      ],
    });
  const calibrate = (fromMs: number, offset: number) =>
    store.addCalibration({
      loggerId: 'front-hall',
      channel: 'pressure',
      fromMs: START_MS + fromMs,
      gain: 1,
      offset,
      standardUncertainty: 0.01,
      note: '',
    });

  test('one psi is 0.068 947 57 bar and one metre of water 0.098 066 5 bar (NIST SP 811, appendix B.8)', async () => {
    await store.store([piece([[1000, 1]], { unit: 'psi' }), piece([[2000, 1]], { unit: 'mH2O' })]);
    const { value } = await read();
    expect(value[0]).toBeCloseTo(0.06894757, 8);
    expect(value[1]).toBeCloseTo(0.0980665, 7);
  });

  test('each sample is read by the end points and the calibration of its own time, and nothing stored changes', async () => {
    await store.store([
      piece(
        [0, 1, 2, 3, 4, 5].map((minute) => [minute * 60_000, 2.5]),
        { unit: 'V' },
      ),
    ]);
    await setEndPoints(0, 10);
    await setEndPoints(2 * 60_000, 6);
    await calibrate(4 * 60_000, 0.125);
    await sealAll(store);
    expect([...(await read()).value]).toEqual([5, 5, 3, 3, 3.125, 3.125]);
  });

  test('volts without end points are a Problem that says what to set', async () => {
    await store.store([piece([[1000, 2.5]], { unit: 'V' })]);
    await expect(read()).rejects.toMatchObject({ code: 'end_points_missing', message: /front-hall.*in V/ });
    await expect(
      convertedSummaries(store, 'front-hall', 'pressure', START_MS, START_MS + HOUR_MS, 'minute'),
    ).rejects.toMatchObject({ code: 'end_points_missing' });
  });

  test('samples of uncertain time are left out unless asked for', async () => {
    const flags = [0, SAMPLE_FLAG.timeUncertain, SAMPLE_FLAG.timeOfArrival];
    await store.store([
      piece(
        [
          [1000, 1],
          [2000, 2],
          [3000, 3],
        ],
        { flags },
      ),
    ]);
    expect([...(await read()).value]).toEqual([1, 3]);
    const all = await read({ includeTimeUncertain: true });
    expect([...all.value]).toEqual([1, 2, 3]);
    expect([...all.flags!]).toEqual(flags);
  });

  test('summaries in canonical units equal those of the converted samples, also where a setting begins inside a bucket', async () => {
    const samples = Array.from(
      { length: 720 },
      (_, i) => [i * 10_000, 2 + Math.round(900 * Math.sin(i / 9)) / 1000] as const,
    );
    await store.store([piece(samples.slice(0, 500), { unit: 'V' }), piece(samples.slice(500), { unit: 'bar' })]);
    await setEndPoints(0, 10);
    await setEndPoints(1_234_567, -4);
    await calibrate(3_000_001, 0.25);
    await sealAll(store);
    const { timeMs, value } = await read();
    for (const [level, stepMs] of [
      ['minute', 60_000],
      ['hour', HOUR_MS],
    ] as const) {
      const summary = await convertedSummaries(
        store,
        'front-hall',
        'pressure',
        START_MS,
        START_MS + 24 * HOUR_MS,
        level,
      );
      expect(summary.startMs.length).toBe(7_200_000 / stepMs);
      summary.startMs.forEach((start, b) => {
        const members = value.filter((_, i) => timeMs[i]! >= start && timeMs[i]! < start + stepMs);
        expect(summary.count[b]).toBe(members.length);
        expect(summary.min[b]).toBeCloseTo(Math.min(...members), 12);
        expect(summary.max[b]).toBeCloseTo(Math.max(...members), 12);
        expect(summary.mean[b]).toBeCloseTo(members.reduce((a, c) => a + c, 0) / members.length, 9);
      });
    }
  });
});

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { SAMPLE_FLAG } from '../../../collector/model/series.ts';
import type { Site } from '../../../collector/model/site.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';
import type { Piece, Store } from '../../../collector/store/port.ts';
import {
  collectRuns,
  HOUR_MS,
  type PieceParts,
  piece,
  START_MS,
  samplesOf,
  sealAll,
  steadyPiece,
  waveBar,
} from './store-under-test.ts';

/**
 * What every engine behind the port must do. `open` gives a fresh, empty store; `reopen` closes it and opens the same
 * data again.
 */
export function describeStore(
  name: string,
  open: () => Promise<{ store: Store; reopen(): Promise<Store>; discard(): Promise<void> }>,
): void {
  describe(`${name} keeps the store's promises`, () => {
    let store: Store;
    let opened: Awaited<ReturnType<typeof open>>;

    beforeEach(async () => {
      opened = await open();
      store = opened.store;
    });
    afterEach(() => opened.discard());

    const storeOne = async (one: Piece) => (await store.store([one]))[0]!;
    const at = (seconds: number, value: number) => [seconds * 1000, value] as const;
    const values = async () => (await samplesOf(store)).map(([atMs, value]) => [atMs / 1000, value]);

    describe('samples', () => {
      test('come back as they were sent, with unit and flags, before and after sealing', async () => {
        const flags = [0, SAMPLE_FLAG.timeOfArrival, SAMPLE_FLAG.timeUncertain];
        await storeOne(piece([at(1, 2.413), at(2, -0.001), at(3, 123456.789)], { flags }));
        await storeOne(piece([at(4, 0.1234567891)], { unit: 'V' }));
        const expected = [
          [1000, 2.413, 'bar', 0],
          [2000, -0.001, 'bar', SAMPLE_FLAG.timeOfArrival],
          [3000, 123456.789, 'bar', SAMPLE_FLAG.timeUncertain],
          [4000, 0.1234567891, 'V', 0],
        ];
        expect(await samplesOf(store)).toEqual(expected);
        await sealAll(store);
        expect(await samplesOf(store)).toEqual(expected);
        store = await opened.reopen();
        expect(await samplesOf(store)).toEqual(expected);
      });

      test('are handed out for [from, to) only, ascending, an hour or so at a time', async () => {
        await storeOne(steadyPiece(0, 3 * 3600));
        await sealAll(store, START_MS + 2.5 * HOUR_MS);
        const runs = await collectRuns(store, 'front-hall', 'pressure', START_MS + 1000, START_MS + 2 * HOUR_MS + 5000);
        const times = runs.flatMap((run) => [...run.timeMs]);
        expect(times.length).toBe(2 * 3600 + 4);
        expect(times[0]).toBe(START_MS + 1000);
        expect(times.at(-1)).toBe(START_MS + 2 * HOUR_MS + 4000);
        expect(times.every((time, i) => i === 0 || time > times[i - 1]!)).toBe(true);
        expect(Math.max(...runs.map((run) => run.timeMs.length))).toBeLessThanOrEqual(3600);
      });

      test('of a span without any, of a logger or a channel never heard of, are none', async () => {
        expect(await collectRuns(store)).toEqual([]);
        await storeOne(piece([at(1, 1)]));
        expect(await collectRuns(store, 'front-hall', 'flow')).toEqual([]);
        expect(await collectRuns(store, 'nobody')).toEqual([]);
        expect(await collectRuns(store, 'front-hall', 'pressure', START_MS + 1001, START_MS + HOUR_MS)).toEqual([]);
        expect(await collectRuns(store, 'front-hall', 'pressure', START_MS + 5, START_MS + 5)).toEqual([]);
        expect(await store.extent('nobody', 'pressure')).toBeUndefined();
        expect(await store.summaries('nobody', 'pressure', 0, 4e12, 'hour')).toEqual([]);
      });

      test('leave a gap a gap, however long', async () => {
        await storeOne(piece([at(1, 1.5)]));
        await storeOne(piece([at(400 * 86_400, 1.6)]));
        await sealAll(store, START_MS + 500 * 24 * HOUR_MS);
        expect(await values()).toEqual([
          [1, 1.5],
          [400 * 86_400, 1.6],
        ]);
      });

      test('of one piece across the hour end are split, and none is lost or doubled', async () => {
        await storeOne(steadyPiece(HOUR_MS - 30_000, 60));
        await sealAll(store);
        const samples = await samplesOf(store);
        expect(samples.map(([atMs]) => atMs)).toEqual(
          Array.from({ length: 60 }, (_, i) => HOUR_MS - 30_000 + i * 1000),
        );
      });

      test('that change their unit along the way come in runs of one unit each', async () => {
        await storeOne(piece([at(1, 1), at(2, 1)]));
        await storeOne(piece([at(3, 100), at(4, 101)], { unit: 'kPa' }));
        await storeOne(piece([at(5, 1)]));
        for (const sealing of [false, true]) {
          if (sealing) await sealAll(store);
          const runs = await collectRuns(store);
          expect(runs.map((run) => [run.unit, run.timeMs.length])).toEqual([
            ['bar', 2],
            ['kPa', 2],
            ['bar', 1],
          ]);
        }
      });

      test('of different loggers and channels never mix', async () => {
        const others: PieceParts[] = [{}, { loggerId: 'back-yard' }, { channel: 'flow', unit: 'l/min' }];
        for (const [i, parts] of others.entries()) await storeOne(piece([at(1, i)], parts));
        await sealAll(store);
        expect((await samplesOf(store)).map(([, value]) => value)).toEqual([0]);
        expect((await samplesOf(store, 'back-yard')).map(([, value]) => value)).toEqual([1]);
        expect((await samplesOf(store, 'front-hall', 'flow')).map(([, value]) => value)).toEqual([2]);
      });
    });

    describe('each time once', () => {
      for (const sealed of [false, true]) {
        const where = sealed ? 'a sealed hour' : 'the tail';

        test(`the same sample again is a duplicate, in ${where}`, async () => {
          await storeOne(piece([at(1, 1.1), at(2, 1.2)]));
          if (sealed) await sealAll(store);
          expect(await storeOne(piece([at(2, 1.2), at(3, 1.3)]))).toEqual({ stored: 1, duplicate: 1, conflict: 0 });
          expect(await values()).toEqual([
            [1, 1.1],
            [2, 1.2],
            [3, 1.3],
          ]);
        });

        test(`another value, or the same number in another unit, is a conflict and the first stays, in ${where}`, async () => {
          await storeOne(piece([at(1, 1.1)]));
          if (sealed) await sealAll(store);
          expect(await storeOne(piece([at(1, 1.2)]))).toEqual({ stored: 0, duplicate: 0, conflict: 1 });
          expect(await storeOne(piece([at(1, 1.1)], { unit: 'V' }))).toEqual({ stored: 0, duplicate: 0, conflict: 1 });
          expect(await samplesOf(store)).toEqual([[1000, 1.1, 'bar', 0]]);
        });

        test(`samples that come out of order and in other packing find their place, in ${where}`, async () => {
          await storeOne(piece([at(10, 10), at(20, 20)]));
          if (sealed) await sealAll(store);
          await storeOne(piece([at(30, 30), at(5, 5), at(15, 15)]));
          expect(await storeOne(piece([at(1, 1), at(15, 15), at(20, 21), at(25, 25)]))).toEqual({
            stored: 2,
            duplicate: 1,
            conflict: 1,
          });
          const expected = [1, 5, 10, 15, 20, 25, 30].map((s) => [s, s]);
          expect(await values()).toEqual(expected);
          await sealAll(store);
          expect(await values()).toEqual(expected);
          expect(await store.extent('front-hall', 'pressure')).toEqual({
            firstMs: START_MS + 1000,
            lastMs: START_MS + 30_000,
            count: 7,
          });
        });
      }

      test('also within one piece and between pieces of one batch', async () => {
        expect(await storeOne(piece([at(2, 2), at(1, 1), at(2, 2), at(1, 9)]))).toEqual({
          stored: 2,
          duplicate: 1,
          conflict: 1,
        });
        const outcomes = await store.store([
          piece([at(3, 3), at(4, 4)]),
          piece([at(4, 4)]),
          piece([at(4, 5), at(5, 5)]),
          piece([]),
        ]);
        expect(outcomes).toEqual([
          { stored: 2, duplicate: 0, conflict: 0 },
          { stored: 0, duplicate: 1, conflict: 0 },
          { stored: 1, duplicate: 0, conflict: 1 },
          { stored: 0, duplicate: 0, conflict: 0 },
        ]);
        expect(await values()).toEqual([1, 2, 3, 4, 5].map((s) => [s, s]));
      });

      test('a fault in one piece stores nothing of the batch', async () => {
        const broken = { ...piece([at(2, 2)]), value: Float64Array.of(Number.NaN) };
        await expect(store.store([piece([at(1, 1)], { loggerId: 'new' }), broken])).rejects.toThrow();
        expect(await samplesOf(store, 'new')).toEqual([]);
        expect(await storeOne(piece([at(1, 1)], { loggerId: 'new' }))).toEqual({
          stored: 1,
          duplicate: 0,
          conflict: 0,
        });
      });
    });

    describe('sealing', () => {
      test('takes an hour only once it is past its end and a grace', async () => {
        await storeOne(steadyPiece(0, 3600));
        expect(await store.seal(START_MS + HOUR_MS, 1000)).toBe(0);
        const early = await store.spanDigest('front-hall', 'pressure', START_MS, START_MS + HOUR_MS);
        expect((await store.health()).sealing).toBeGreaterThan(0);
        await sealAll(store);
        expect((await store.health()).sealing).toBe(0);
        expect(await store.spanDigest('front-hall', 'pressure', START_MS, START_MS + HOUR_MS)).toBe(early);
      });

      test('keeps to its budget and tells how many hours still wait', async () => {
        for (let hour = 0; hour < 6; hour++) await storeOne(steadyPiece(hour * HOUR_MS, 600));
        const left: number[] = [];
        do left.push(await store.seal(START_MS + 1000 * HOUR_MS, 0));
        while (left.at(-1)! > 0 && left.length < 20);
        expect(left).toEqual([5, 4, 3, 2, 1, 0]);
        expect((await samplesOf(store)).length).toBe(3600);
      });
    });

    describe('summaries', () => {
      /** The same by the plainest way there is. */
      function plain(samples: readonly (readonly [number, number])[], stepMs: number) {
        const buckets = new Map<number, number[]>();
        for (const [atMs, value] of samples) {
          const start = START_MS + Math.floor(atMs / stepMs) * stepMs;
          buckets.set(start, [...(buckets.get(start) ?? []), value]);
        }
        return [...buckets].map(([start, members]) => ({
          start,
          min: Math.min(...members),
          max: Math.max(...members),
          mean: members.reduce((a, b) => a + b, 0) / members.length,
          count: members.length,
        }));
      }

      test('equal a plain count over the samples: sealed hours, open hours, late samples, gaps', async () => {
        const samples: [number, number][] = [];
        for (let i = 0; i < 5 * 360; i++) if (i % 97 > 20) samples.push([i * 10_000, waveBar(i * 10_000)]);
        const late = samples.filter((_, i) => i % 50 === 0);
        await storeOne(piece(samples.filter((_, i) => i % 50 !== 0 && i < 700)));
        await sealAll(store, START_MS + 2.5 * HOUR_MS);
        await storeOne(piece(samples.filter((_, i) => i % 50 !== 0 && i >= 700)));
        await storeOne(piece(late));
        for (const sealing of [false, true]) {
          if (sealing) await sealAll(store);
          for (const [level, stepMs] of [
            ['minute', 60_000],
            ['hour', HOUR_MS],
          ] as const) {
            const [answer] = await store.summaries('front-hall', 'pressure', START_MS, START_MS + 24 * HOUR_MS, level);
            const expected = plain(samples, stepMs);
            expect(answer!.unit).toBe('bar');
            expect([...answer!.summary.startMs]).toEqual(expected.map((bucket) => bucket.start));
            expect([...answer!.summary.min]).toEqual(expected.map((bucket) => bucket.min));
            expect([...answer!.summary.max]).toEqual(expected.map((bucket) => bucket.max));
            expect([...answer!.summary.count]).toEqual(expected.map((bucket) => bucket.count));
            for (const [i, mean] of answer!.summary.mean.entries()) expect(mean).toBeCloseTo(expected[i]!.mean, 9);
          }
        }
      });

      test('cover the buckets that touch the span, one entry per unit', async () => {
        await storeOne(steadyPiece(0, 7200));
        await storeOne(piece([at(7205, 310)], { unit: 'kPa' }));
        await sealAll(store);
        const minutes = await store.summaries(
          'front-hall',
          'pressure',
          START_MS + 90_000,
          START_MS + 180_001,
          'minute',
        );
        expect([...minutes[0]!.summary.startMs].map((start) => start - START_MS)).toEqual([60_000, 120_000, 180_000]);
        const hours = await store.summaries('front-hall', 'pressure', START_MS, START_MS + 24 * HOUR_MS, 'hour');
        expect(hours.map(({ unit, summary }) => [unit, [...summary.count]])).toEqual([
          ['bar', [3600, 3600]],
          ['kPa', [1]],
        ]);
      });
    });

    describe('the newest sample, the extent and the digest', () => {
      test('the newest is by its own time, per channel', async () => {
        await storeOne(piece([at(5, 1.5)], { arrivedMs: START_MS + 9000 }));
        await storeOne(piece([at(4, 1.4)], { arrivedMs: START_MS + 9500 }));
        await storeOne(piece([at(6, 12)], { channel: 'flow', unit: 'l/min', arrivedMs: START_MS + 9700 }));
        const latest = await store.latest(['front-hall', 'nobody']);
        expect(latest.sort((a, b) => a.channel.localeCompare(b.channel))).toEqual([
          {
            loggerId: 'front-hall',
            channel: 'flow',
            atMs: START_MS + 6000,
            value: 12,
            unit: 'l/min',
            arrivedMs: START_MS + 9700,
          },
          {
            loggerId: 'front-hall',
            channel: 'pressure',
            atMs: START_MS + 5000,
            value: 1.5,
            unit: 'bar',
            arrivedMs: START_MS + 9000,
          },
        ]);
      });

      test('the digest is the same for equal data, however it was packed or sealed, and changes with a new sample', async () => {
        const span = ['pressure', START_MS, START_MS + 2 * HOUR_MS] as const;
        await storeOne(steadyPiece(0, 120));
        for (let i = 119; i >= 0; i--) await storeOne(steadyPiece(i * 1000, 1, { loggerId: 'back-yard' }));
        const digest = await store.spanDigest('front-hall', ...span);
        expect(await store.spanDigest('back-yard', ...span)).toBe(digest);
        await sealAll(store);
        expect(await store.spanDigest('front-hall', ...span)).toBe(digest);
        await storeOne(piece([[500, 3.1]]));
        const after = await store.spanDigest('front-hall', ...span);
        expect(after).not.toBe(digest);
        await sealAll(store);
        expect(await store.spanDigest('front-hall', ...span)).toBe(after);
      });
    });

    describe('refusals', () => {
      test('are counted, and the last hundred are kept per logger and for unknown ones', async () => {
        const refusal = (loggerId: string | undefined, number: number) => ({
          loggerId,
          topic: 'mainsdiary/front-hall/pressure',
          atMs: START_MS + number,
          reason: 'not a number',
          excerpt: `message ${number}`,
        });
        await store.addRefusals(Array.from({ length: 130 }, (_, i) => refusal('front-hall', i)));
        await store.addRefusals([refusal(undefined, 1), refusal('back-yard', 2)]);
        expect(await store.refusalCount('front-hall')).toBe(130);
        expect(await store.refusalCount(undefined)).toBe(1);
        expect(await store.refusalCount('nobody')).toBe(0);
        const kept = await store.refusals('front-hall');
        expect(kept.length).toBe(100);
        expect(kept[0]).toEqual(refusal('front-hall', 129));
        expect(await store.refusals(undefined)).toEqual([refusal(undefined, 1)]);
      });
    });

    describe('settings', () => {
      const site = (id: string, hiddenMs?: number): Site => ({
        id,
        name: '12 Sample Row (invented)',
        timeZone: 'Europe/London',
        createdMs: START_MS,
        thresholds: DEFAULT_THRESHOLDS,
        invented: true,
        ...(hiddenMs === undefined ? {} : { hiddenMs }),
      });
      const placement = (siteId: string | undefined, hours: number, loggerId = 'front-hall') =>
        ({
          loggerId,
          fromMs: START_MS + hours * HOUR_MS,
          siteId,
          position: 'incoming',
          heightAboveSupplyPointM: 0.4,
        }) as const;

      test('are there after opening again; hidden ones only when asked for', async () => {
        await store.putSite(site('a'));
        await store.putSite(site('b', START_MS));
        await store.putLogger({ id: 'front-hall', createdMs: START_MS, keySha256: '00' });
        await store.putState('counter', '17');
        store = await opened.reopen();
        expect((await store.sites()).map(({ id }) => id)).toEqual(['a']);
        expect((await store.sites({ includeHidden: true })).map(({ id }) => id)).toEqual(['a', 'b']);
        expect(await store.site('b')).toEqual(site('b', START_MS));
        expect(await store.site('c')).toBeUndefined();
        expect(await store.logger('front-hall')).toEqual({ id: 'front-hall', createdMs: START_MS, keySha256: '00' });
        expect(await store.state('counter')).toBe('17');
        expect(await store.state('other')).toBeUndefined();
      });

      test('dated entries are added in any order, come back ascending, and replace their equal', async () => {
        const setting = (hours: number, unit: string) =>
          ({ loggerId: 'front-hall', channel: 'pressure', fromMs: START_MS + hours * HOUR_MS, unit }) as const;
        await store.addChannelSetting(setting(2, 'V'));
        await store.addChannelSetting(setting(1, 'bar'));
        await store.addChannelSetting(setting(2, 'mV'));
        expect(await store.channelSettings('front-hall')).toEqual([setting(1, 'bar'), setting(2, 'mV')]);
        await store.addPlacement(placement('b', 5));
        await store.addPlacement(placement('a', 1));
        await store.addPlacement(placement('a', 0, 'back-yard'));
        expect(await store.placements('front-hall')).toEqual([placement('a', 1), placement('b', 5)]);
        expect(await store.placementsAt('a')).toEqual([placement('a', 0, 'back-yard'), placement('a', 1)]);
        const calibration = {
          loggerId: 'front-hall',
          channel: 'pressure',
          fromMs: START_MS,
          gain: 1.01,
          offset: -0.02,
          standardUncertainty: 0.01,
          note: 'gauge',
        } as const;
        await store.addCalibration(calibration);
        expect(await store.calibrations('front-hall')).toEqual([calibration]);
        expect(await store.calibrations('back-yard')).toEqual([]);
      });

      test('erasing a site erases what its loggers recorded there, sealed or not, and nothing else', async () => {
        await store.putSite(site('a'));
        await store.putSite(site('b'));
        await store.addPlacement(placement('a', 0));
        await store.addPlacement(placement('b', 1.5));
        await store.addPlacement(placement('a', 4.25));
        await storeOne(steadyPiece(0, 3 * 360, { stepMs: 10_000 }));
        await sealAll(store);
        await storeOne(steadyPiece(3 * HOUR_MS, 2 * 360, { stepMs: 10_000 }));
        await storeOne(steadyPiece(0, 5, { loggerId: 'back-yard' }));
        await store.eraseSite('a');

        const kept = (await samplesOf(store)).map(([atMs]) => atMs / HOUR_MS);
        expect(kept.length).toBe((4.25 - 1.5) * 360);
        expect(kept[0]).toBe(1.5);
        expect(kept.at(-1)).toBeLessThan(4.25);
        expect(await store.extent('front-hall', 'pressure')).toEqual({
          firstMs: START_MS + 1.5 * HOUR_MS,
          lastMs: START_MS + 4.25 * HOUR_MS - 10_000,
          count: kept.length,
        });
        const [latest] = await store.latest(['front-hall']);
        expect(latest).toMatchObject({ atMs: START_MS + 4.25 * HOUR_MS - 10_000, unit: 'bar' });
        expect(latest!.value).toBe(waveBar(4.25 * HOUR_MS - 10_000));
        const [hours] = await store.summaries('front-hall', 'pressure', START_MS, START_MS + 24 * HOUR_MS, 'hour');
        expect([...hours!.summary.count]).toEqual([180, 360, 360, 90]);
        expect((await samplesOf(store, 'back-yard')).length).toBe(5);
        expect(await store.site('a')).toBeUndefined();
        expect(await store.placementsAt('a')).toEqual([]);
        expect(await store.site('b')).toEqual(site('b'));

        // What was erased may be sent again: it is new then.
        expect(await storeOne(steadyPiece(0, 5))).toEqual({ stored: 5, duplicate: 0, conflict: 0 });
      });

      test('history imported from before a logger was first placed belongs to its first site', async () => {
        await store.putSite(site('a'));
        await store.addPlacement(placement('a', 100));
        await storeOne(steadyPiece(0, 10));
        await store.eraseSite('a');
        expect(await samplesOf(store)).toEqual([]);
        expect(await store.extent('front-hall', 'pressure')).toBeUndefined();
      });

      test('erasing a logger erases its samples, settings and refusals', async () => {
        await store.putLogger({ id: 'front-hall', createdMs: START_MS, keySha256: '00' });
        await store.addPlacement(placement('a', 0));
        await storeOne(steadyPiece(0, 4000));
        await sealAll(store, START_MS + 1.5 * HOUR_MS);
        await storeOne(piece([at(1, 12)], { channel: 'flow', unit: 'l/min' }));
        await store.eraseLogger('front-hall');
        expect(await store.logger('front-hall')).toBeUndefined();
        expect(await store.placements('front-hall')).toEqual([]);
        expect(await samplesOf(store)).toEqual([]);
        expect(await store.latest(['front-hall'])).toEqual([]);
        expect(await store.summaries('front-hall', 'pressure', 0, 4e12, 'minute')).toEqual([]);
        expect((await store.health()).sealing).toBe(0);
        expect(await storeOne(steadyPiece(0, 4000))).toEqual({ stored: 4000, duplicate: 0, conflict: 0 });
      });
    });

    test('a store that can write says so, with its size', async () => {
      await storeOne(steadyPiece(0, 100));
      const health = await store.health();
      expect(health.state).toBe('ok');
      expect(health.message).toBeUndefined();
      expect(health.bytes).toBeGreaterThan(0);
    });
  });
}

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { createClockBook } from '../../../collector/clocks/clock-book.ts';
import { SAMPLE_FLAG } from '../../../collector/model/series.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { testClock, testLog } from '../ingest/collector-under-test.ts';

const START = Date.UTC(2026, 4, 4);
const notice = (arrivedMs: number, timeMs: number, flag = 0) => ({
  loggerId: 'front-hall',
  channel: 'pressure' as const,
  unit: 'bar',
  arrivedMs,
  timeMs: Float64Array.of(timeMs),
  value: Float64Array.of(2),
  flags: Uint8Array.of(flag),
});

describe("the loggers' clocks", () => {
  it('outlive a restart, and are erased with their logger', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'clocks-'));
    const store = await openSqliteStore({ folder, clock: testClock() });
    try {
      await store.putLogger({ id: 'front-hall', createdMs: 0, keySha256: '' });
      const before = createClockBook({ store, log: testLog() });
      await before.state('front-hall');
      for (let i = 0; i < 1800; i++) before.stored(notice(START + i * 1000 + 200, START + i * 1000 - 240_000));
      const { estimate } = await before.state('front-hall');
      expect(Math.abs(estimate!.offsetMs + 240_000)).toBeLessThanOrEqual(estimate!.uncertaintyMs);
      expect(before.known()).toHaveLength(1);
      await before.stop();
      const after = createClockBook({ store, log: testLog() });
      expect((await after.state('front-hall')).estimate).toEqual(estimate);
      await store.eraseLogger('front-hall');
      after.forget('front-hall');
      expect(await after.state('front-hall')).toMatchObject({ kind: 'unknown', jumps: [] });
    } finally {
      await store.close();
      rmSync(folder, { recursive: true, force: true });
    }
  });

  it('bare numbers say that their logger has none, and a file beside them changes nothing', async () => {
    const state = new Map<string, string>();
    const book = createClockBook({
      store: { state: async (name) => state.get(name), putState: async (name, value) => void state.set(name, value) },
      log: testLog(),
    });
    await book.state('front-hall');
    book.stored(notice(START, START, SAMPLE_FLAG.timeOfArrival));
    expect((await book.state('front-hall')).kind).toBe('none');
    book.stored(notice(START + 1000, START - 86_400_000));
    book.stored(notice(START + 2000, START + 2000, SAMPLE_FLAG.timeOfArrival));
    expect((await book.state('front-hall')).kind).toBe('none');
  });
});

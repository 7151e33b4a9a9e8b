import { describe, expect, it } from 'vitest';
import { createOpenEnds, OPEN_END_AGE_MS } from '../../../api/work/open-ends.ts';
import { recordDigest } from '../../../api/work/record-digest.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { temporaryFolder } from '../http/running-server.ts';

describe('the end of a question without one', () => {
  const ends = () => {
    const clock = { now: 1_000_000_000_000, nowMs: () => clock.now, every: () => () => {} };
    return { clock, ends: createOpenEnds(clock) };
  };
  it('stays for a minute while a sample a second comes in, then moves to the newest', () => {
    const { clock, ends: open } = ends();
    const settled = new Set<number>();
    for (let second = 0; second < 600; second++) {
      settled.add(open.settle('logger front-hall', clock.now));
      clock.now += 1_000;
    }
    expect(settled.size).toBe(600 / (OPEN_END_AGE_MS / 1_000));
  });
  it('moves at once where the record jumps ahead or back', () => {
    const { clock, ends: open } = ends();
    open.settle('a', clock.now);
    expect(open.settle('a', clock.now + 3_600_000)).toBe(clock.now + 3_600_000);
    expect(open.settle('a', clock.now - 1)).toBe(clock.now - 1);
  });
  it('stays ten times as long as the answer took, a quarter of an hour at most', () => {
    const { clock, ends: open } = ends();
    const asked = open.settle('a', clock.now);
    open.took('a', asked, 12_000);
    clock.now += 119_000;
    expect(open.settle('a', clock.now)).toBe(asked);
    clock.now += 2_000;
    const next = open.settle('a', clock.now);
    expect(next).toBe(clock.now);
    open.took('a', next, 3_600_000);
    clock.now += 15 * 60_000;
    expect(open.settle('a', clock.now)).toBe(clock.now);
  });
  it('of one question is no other question’s', () => {
    const { clock, ends: open } = ends();
    open.settle('a', clock.now);
    clock.now += 1_000;
    expect(open.settle('b', clock.now)).toBe(clock.now);
  });
});

describe('the digest of a span that ends within an hour', () => {
  it('changes with every sample before its end and with none after it', async () => {
    const startMs = Date.UTC(2026, 4, 4);
    const store = await openSqliteStore({ folder: temporaryFolder(), clock: { nowMs: () => startMs + 9_000_000 } });
    await store.putLogger({ id: 'front-hall', createdMs: startMs, keySha256: '0'.repeat(64) });
    const put = (...seconds: number[]) =>
      store.store([
        {
          loggerId: 'front-hall',
          channel: 'pressure',
          unit: 'bar',
          arrivedMs: startMs,
          timeMs: Float64Array.from(seconds, (second) => startMs + second * 1_000),
          value: Float64Array.from(seconds, (second) => second / 1_000),
        },
      ]);
    const digest = () => recordDigest(store, 'front-hall', 'pressure', startMs + 60_000, startMs + 4_500_000);
    await put(100, 200, 3_700);
    const first = await digest();
    await put(4_500, 4_600, 8_000);
    expect(await digest()).toBe(first);
    const seen = new Set([first]);
    for (const second of [4_499, 3_600, 3_599, 60]) {
      await put(second);
      seen.add(await digest());
    }
    expect(seen.size).toBe(5);
    await store.close();
  });
});

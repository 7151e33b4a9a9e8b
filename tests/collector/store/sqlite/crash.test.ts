import { expect, test } from 'vitest';
import { openSqliteStore } from '../../../../collector/store/sqlite/open-store.ts';
import { startChild } from '../child-process.ts';
import {
  HOUR_MS,
  START_MS,
  samplesOf,
  scratchFolder,
  sealAll,
  standingClock,
  steadyPiece,
} from '../store-under-test.ts';

/** Each start of a child costs a second or two. */
const KILLS = 4;
/** A guard against hanging on a busy machine. */
const LIMIT_MS = 300_000;

test(
  'what was acknowledged is there, once, after kill -9 at any moment of storing and sealing',
  async () => {
    const { folder, remove } = scratchFolder();
    const acknowledged: number[] = [];
    // The first message is at hour 8, so that late ones lie after the start.
    let from = 48;
    for (let kill = 0; kill < KILLS; kill++) {
      const child = startChild('./storing-child.ts', [folder, String(from)]);
      await child.linesAtLeast(20 + kill * 13);
      await child.kill();
      acknowledged.push(...child.lines.map(Number).filter((number) => number >= from));
      from = Math.max(...acknowledged) + 1;
    }
    const store = await openSqliteStore({ folder, clock: standingClock() });
    const found = new Map((await samplesOf(store)).map(([atMs, value]) => [atMs, value]));
    let expected = 0;
    for (const number of acknowledged) {
      const own = steadyPiece(number * 600_000, 10);
      const late = number % 5 === 0 ? [steadyPiece(number * 600_000 - 7 * HOUR_MS + 300_000, 10)] : [];
      for (const { timeMs, value } of [own, ...late]) {
        expected += timeMs.length;
        expect(Array.from(timeMs, (atMs) => found.get(atMs - START_MS))).toEqual([...value]);
      }
    }
    // At most one message a kill was stored without its line having come out.
    expect(found.size).toBeGreaterThanOrEqual(expected);
    expect(found.size).toBeLessThanOrEqual(expected + KILLS * 30);
    const extent = await store.extent('front-hall', 'pressure');
    expect(extent!.count).toBe(found.size);
    await sealAll(store);
    expect((await samplesOf(store)).length).toBe(found.size);
    const hours = await store.summaries('front-hall', 'pressure', 0, 4e12, 'hour');
    expect(hours[0]!.summary.count.reduce((a, b) => a + b, 0)).toBe(found.size);
    await store.close();
    remove();
  },
  LIMIT_MS,
);

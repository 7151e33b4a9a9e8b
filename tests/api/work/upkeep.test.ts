import { afterEach, describe, expect, it } from 'vitest';
import { eraseHidden, HIDDEN_FOR_MS } from '../../../api/work/erase-hidden.ts';
import { startSealing } from '../../../api/work/sealing.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';
import type { Store } from '../../../collector/store/port.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { temporaryFolder } from '../http/running-server.ts';

const DAY = 86_400_000;
const warnings: string[] = [];
const LOG = { info() {}, warn: (_fields: object, message: string) => void warnings.push(message), error() {} };
const clock = { nowMs: () => 0, every: () => () => {} };
let store: Store | undefined;
afterEach(async () => {
  await store?.close();
  store = undefined;
});

describe('what was deleted', () => {
  it('is erased thirty days later, with its samples, and not an hour before', async () => {
    store = await openSqliteStore({ folder: temporaryFolder(), clock });
    const site = { name: 'A', timeZone: 'UTC', createdMs: 0, thresholds: DEFAULT_THRESHOLDS, invented: false };
    await store.putSite({ ...site, id: 'hidden', hiddenMs: DAY });
    await store.putSite({ ...site, id: 'shown' });
    await store.putLogger({ id: 'hidden', createdMs: 0, keySha256: '', hiddenMs: DAY });
    await store.store([
      {
        loggerId: 'hidden',
        channel: 'pressure',
        unit: 'bar',
        arrivedMs: 0,
        timeMs: Float64Array.of(1000),
        value: Float64Array.of(2),
      },
    ]);
    await eraseHidden(store, DAY + HIDDEN_FOR_MS - 1, LOG);
    expect((await store.sites({ includeHidden: true })).map(({ id }) => id).sort()).toEqual(['hidden', 'shown']);
    expect(await store.extent('hidden', 'pressure')).toMatchObject({ count: 1 });
    await eraseHidden(store, DAY + HIDDEN_FOR_MS, LOG);
    expect((await store.sites({ includeHidden: true })).map(({ id }) => id)).toEqual(['shown']);
    expect(await store.loggers({ includeHidden: true })).toEqual([]);
    expect(await store.extent('hidden', 'pressure')).toBeUndefined();
  });
});

describe('sealing', () => {
  /** A clock whose timers are fired by hand. */
  function handClock() {
    let tick = () => {};
    let nowMs = 0;
    return {
      clock: {
        nowMs: () => nowMs,
        every(_everyMs: number, action: () => void) {
          tick = action;
          return () => {
            tick = () => {};
          };
        },
      },
      tick: () => tick(),
      advance: (ms: number) => {
        nowMs += ms;
      },
    };
  }

  it('goes on until nothing waits, and gives up a turn that gets nowhere', async () => {
    const left = [5, 3, 0, 2, 2];
    let turns = 0;
    const { clock: hand, tick } = handClock();
    const sealing = startSealing({
      store: { seal: async () => left[turns++] ?? 0, eraseAged: async () => false } as unknown as Store,
      clock: hand,
      log: LOG,
    });
    tick();
    await expect.poll(() => turns).toBe(3);
    await expect
      .poll(() => {
        if (turns === 3) tick();
        return turns;
      })
      .toBe(5);
    await sealing.stop();
    tick();
    expect(turns).toBe(5);
  });
  it('looks for aged samples after sealing, turn after turn until none is left, and then not for a minute', async () => {
    const more = [true, true, false, false];
    const order: string[] = [];
    const { clock: hand, tick, advance } = handClock();
    const seal = async () => order.push('seal') * 0;
    const eraseAged = async () => order.push('erase') > 0 && more.shift() === true;
    const sealing = startSealing({ store: { seal, eraseAged } as unknown as Store, clock: hand, log: LOG });
    tick();
    await expect.poll(() => order).toEqual(['seal', 'erase', 'erase', 'erase']);
    const ticked = () => {
      tick();
      return order.slice(4);
    };
    await expect.poll(() => ticked().length).toBeGreaterThan(1);
    expect(order.slice(4)).not.toContain('erase');
    advance(60_000);
    await expect.poll(ticked).toContain('erase');
    await sealing.stop();
  });
  it('waits after a fault, says so, and tries again', async () => {
    let turns = 0;
    const { clock: hand, tick, advance } = handClock();
    const seal = async () => {
      turns++;
      throw new Error('the disk is full');
    };
    const sealing = startSealing({ store: { seal } as unknown as Store, clock: hand, log: LOG });
    tick();
    await expect.poll(() => warnings.length).toBe(1);
    tick();
    expect(turns).toBe(1);
    advance(30_000);
    await expect
      .poll(() => {
        if (turns === 1) tick();
        return turns;
      })
      .toBe(2);
    await sealing.stop();
  });
});

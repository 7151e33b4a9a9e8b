import { describe, expect, test } from 'vitest';
import { createCollector } from '../../../collector/collector.ts';
import { createMappingBook } from '../../../collector/ingest/mapping-book.ts';
import { SAMPLE_FLAG } from '../../../collector/model/series.ts';
import { message, NOON_MS, testClock, testLog } from './collector-under-test.ts';
import { memoryStore, STORE_FULL } from './memory-store.ts';

const MAPPING = {
  filter: 'plant/+/state',
  channels: [
    { channel: 'pressure' as const, value: '/p', time: { pointer: '/t', form: 'unix_s' as const } },
    { channel: 'flow' as const, value: '/q' },
  ],
};
const SENT = '{"p":2.4,"q":3,"t":1777897800}';

function collectorWithDevice() {
  const store = memoryStore('front-hall');
  const mappings = createMappingBook();
  mappings.set('front-hall', { mapping: MAPPING });
  return { store, mappings, collector: createCollector({ store, clock: testClock(), log: testLog(), mappings }) };
}

describe("a message under a device's own filter", () => {
  test('may be acknowledged once it is committed, not before', async () => {
    const { store, collector } = collectorWithDevice();
    store.hold();
    let accepted = false;
    const taken = collector.accept(message('plant/7/state', SENT)).then(() => {
      accepted = true;
    });
    await new Promise(setImmediate);
    expect(accepted).toBe(false);
    store.release();
    await taken;
    expect(store.samples()).toMatchObject([
      { channel: 'pressure', timeMs: 1_777_897_800_000, value: 2.4, flags: 0 },
      { channel: 'flow', timeMs: NOON_MS, value: 3, flags: SAMPLE_FLAG.timeOfArrival },
    ]);
    expect(collector.counters().loggers.get('front-hall')).toMatchObject({ messages: 1, stored: 2, refused: 0 });
  });

  test('may not be acknowledged where it could not be stored', async () => {
    const { store, collector } = collectorWithDevice();
    store.failWith(STORE_FULL);
    await expect(collector.accept(message('plant/7/state', SENT))).rejects.toBe(STORE_FULL);
    store.failWith(undefined);
    await collector.accept(message('plant/7/state', SENT, { duplicate: true }));
    expect(store.samples()).toHaveLength(2);
  });

  test('counts once when it is delivered again', async () => {
    const { store, collector } = collectorWithDevice();
    await collector.accept(message('plant/7/state', SENT));
    await collector.accept(message('plant/7/state', SENT, { duplicate: true }));
    expect(collector.counters().total).toMatchObject({ stored: 2, duplicate: 2 });
    expect(store.samples().filter(({ channel }) => channel === 'flow')).toHaveLength(1);
  });

  test('is no sample where the broker had kept it (RETAIN), and nobody’s where no filter covers it', async () => {
    const { store, mappings, collector } = collectorWithDevice();
    await collector.accept(message('plant/7/state', SENT, { retainedDelivery: true }));
    expect(store.samples()).toEqual([]);
    mappings.set('front-hall', undefined);
    await collector.accept(message('plant/7/state', SENT));
    expect(store.samples()).toEqual([]);
    expect(store.refused).toMatchObject([{ loggerId: undefined, topic: 'plant/7/state' }]);
  });
});

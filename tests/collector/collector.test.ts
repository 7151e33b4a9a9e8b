import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createCollector } from '../../collector/collector.ts';
import { CHANNELS } from '../../collector/model/channel.ts';
import { SAMPLE_FLAG } from '../../collector/model/series.ts';
import type { LoggerPresence, StoredNotice } from '../../collector/ports.ts';
import { collectorOver, message, NOON_MS, testClock, testLog, until } from './ingest/collector-under-test.ts';
import { memoryStore, STORE_FULL } from './ingest/memory-store.ts';

const TOPIC = 'mainsdiary/front-hall/pressure';
const timed = (i: number, value: number = i) => `{"time":${1777876267 + i},"value":${value}}`;

describe('acknowledged means stored', () => {
  test('a message is accepted only after its commit', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    store.hold();
    let accepted = false;
    const accepting = collector.accept(message(TOPIC, timed(0))).then(() => {
      accepted = true;
    });
    await until(() => collector.counters().total.waiting === 1, 'the message waits');
    expect(accepted).toBe(false);
    store.release();
    await accepting;
    expect(store.samples()).toHaveLength(1);
    expect(collector.counters().total).toMatchObject({ messages: 1, stored: 1, refused: 0, waiting: 0 });
  });

  test('while the store fails nothing is accepted and health says so; afterwards it goes on by itself', async () => {
    const store = memoryStore('front-hall');
    const log = testLog();
    const collector = createCollector({ store, clock: testClock(), log });
    store.failWith(STORE_FULL);
    await expect(collector.accept(message(TOPIC, timed(0)))).rejects.toBe(STORE_FULL);
    await expect(collector.accept(message(TOPIC, 'rubbish'))).rejects.toBe(STORE_FULL);
    expect(collector.health()).toEqual({ state: 'failing', message: 'the disk is full free some space' });
    expect(collector.counters().total).toMatchObject({ stored: 0, refused: 0 });
    store.failWith(undefined);
    await collector.accept(message(TOPIC, timed(0)));
    expect(collector.health().state).toBe('ok');
    expect(log.lines.map(({ level }) => level)).toEqual(['error', 'info']);
  });

  test('one message the store chokes on does not keep the others out', async () => {
    const store = memoryStore('front-hall');
    const keep = store.store.bind(store);
    store.store = async (pieces) => {
      if (pieces.some(({ value }) => value[0] === 666)) throw new RangeError('a fault in one piece');
      return keep(pieces);
    };
    const collector = collectorOver(store);
    const results = await Promise.allSettled([1, 666, 3].map((v, i) => collector.accept(message(TOPIC, timed(i, v)))));
    expect(results.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
    expect(store.samples().map(({ value }) => value)).toEqual([1, 3]);
  });

  test('messages that come together share a commit', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    await Promise.all(Array.from({ length: 500 }, (_, i) => collector.accept(message(TOPIC, timed(i)))));
    expect(store.samples()).toHaveLength(500);
    expect(store.commits.length).toBeLessThan(5);
  });

  test('a redelivered reading waits for its first copy, and is not taken for stored when that fails', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    await collector.accept(message(TOPIC, '1.0'));
    store.hold();
    const first = collector.accept(message(TOPIC, '1.482'));
    await until(() => collector.counters().total.waiting === 1, 'the first copy waits');
    const again = collector.accept(message(TOPIC, '1.482', { duplicate: true }));
    store.failWith(STORE_FULL);
    store.release();
    await expect(first).rejects.toBe(STORE_FULL);
    await expect(again).rejects.toBe(STORE_FULL);
    store.failWith(undefined);
    await collector.accept(message(TOPIC, '1.482', { duplicate: true }));
    expect(store.samples().map(({ value }) => value)).toEqual([1, 1.482]);
  });
});

describe('what is refused', () => {
  test('is acknowledged, counted and kept with topic, time, reason and the first 200 bytes', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    await collector.accept(message(TOPIC, `\u0000\u001b[31m\n${'x'.repeat(500)}`));
    expect(store.refused).toHaveLength(1);
    const [refusal] = store.refused;
    expect(refusal).toMatchObject({ loggerId: 'front-hall', topic: TOPIC, atMs: NOON_MS });
    expect(refusal!.excerpt).toBe(`\\u0000\\u001b[31m\\u000a${'x'.repeat(200 - 7)}`);
    expect(collector.counters().loggers.get('front-hall')).toMatchObject({ messages: 1, refused: 1, stored: 0 });
  });

  test('of a batch names the entry; the good ones are stored', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    await collector.accept(message(TOPIC, `[${timed(0)},{"time":"?","value":1},${timed(2)},{}]`));
    expect(store.samples()).toHaveLength(2);
    expect(store.refused.map(({ reason }) => reason.split(':')[0])).toEqual(['entry 1', 'entry 3']);
    expect(collector.counters().total).toMatchObject({ stored: 2, refused: 2 });
  });

  test.each([
    ['mainsdiary/nobody/pressure', undefined, 'no logger is called nobody'],
    ['mainsdiary/front-hall/humidity', 'front-hall', 'neither a channel'],
    ['something/else', undefined, "isn't mainsdiary/"],
    ['mainsdiary/front-hall/status', 'front-hall', 'online or offline'],
  ])('%s is refused by name', async (topic, loggerId, reason) => {
    const store = memoryStore('front-hall');
    await collectorOver(store).accept(message(topic, '1.482'));
    expect(store.refused).toMatchObject([{ loggerId, topic }]);
    expect(store.refused[0]!.reason).toContain(reason);
    expect(store.samples()).toEqual([]);
  });

  test('from a logger that was added in the meantime is accepted once it is told', async () => {
    const store = memoryStore();
    const collector = collectorOver(store);
    await collector.accept(message(TOPIC, timed(0)));
    store.loggers.set('front-hall', []);
    collector.forget('front-hall');
    await collector.accept(message(TOPIC, timed(0)));
    expect([store.samples().length, store.refused.length]).toEqual([1, 1]);
  });

  test('a deleted logger is no logger', async () => {
    const store = memoryStore('front-hall');
    store.logger = async (id) => ({ id, createdMs: 0, keySha256: '', hiddenMs: NOON_MS });
    await collectorOver(store).accept(message(TOPIC, timed(0)));
    expect(store.refused).toHaveLength(1);
  });

  test('what an outside broker had kept is neither a sample nor a refusal', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    await collector.accept(message(TOPIC, timed(0), { retainedDelivery: true }));
    await collector.accept(message('mainsdiary/nobody/status', 'online', { retainedDelivery: true }));
    expect([store.samples().length, store.refused.length, collector.counters().total.messages]).toEqual([0, 0, 0]);
  });
});

describe('samples without their own time', () => {
  test('from a buffer emptied after a reconnection are kept, marked, the first one too', async () => {
    const store = memoryStore('front-hall');
    const clock = testClock();
    const collector = collectorOver(store, clock);
    await collector.accept(message(TOPIC, '1'));
    collector.connectionOpened('front-hall');
    const later = NOON_MS + 3_600_000;
    await Promise.all([2, 3, 4].map((v) => collector.accept(message(TOPIC, String(v), { arrivedMs: later }))));
    const byValue = new Map(store.samples().map((s) => [s.value, s]));
    expect(byValue.get(1)!.flags).toBe(SAMPLE_FLAG.timeOfArrival);
    for (const v of [2, 3, 4]) {
      expect(byValue.get(v)!.flags & SAMPLE_FLAG.timeUncertain, `value ${v}`).toBe(SAMPLE_FLAG.timeUncertain);
    }
    expect(new Set(store.samples().map(({ timeMs }) => timeMs)).size).toBe(4);
  });

  test('alone after a reconnection are live', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    await collector.accept(message(TOPIC, '1'));
    collector.deliveryResumed();
    await collector.accept(message(TOPIC, '2', { arrivedMs: NOON_MS + 60_000 }));
    expect(store.samples().map(({ flags }) => flags)).toEqual([SAMPLE_FLAG.timeOfArrival, SAMPLE_FLAG.timeOfArrival]);
  });

  test('are recognised as redelivered after a restart, from what is stored', async () => {
    const store = memoryStore('front-hall');
    await collectorOver(store).accept(message(TOPIC, '1.482'));
    const restarted = collectorOver(store);
    await restarted.accept(message(TOPIC, '1.482', { duplicate: true, arrivedMs: NOON_MS + 1000 }));
    expect(store.samples()).toHaveLength(1);
    expect(restarted.counters().total.duplicate).toBe(1);
  });
});

describe('followers', () => {
  test('are told after the commit, and a failing one breaks nothing', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    const notices: StoredNotice[] = [];
    collector.onStored(() => {
      throw new Error('a follower fails');
    });
    const stopFollowing = collector.onStored((notice) => notices.push(notice));
    await collector.accept(message(TOPIC, timed(0, 1.5)));
    expect(notices).toMatchObject([{ loggerId: 'front-hall', channel: 'pressure', unit: 'bar' }]);
    await collector.accept(message(TOPIC, timed(0, 1.5)));
    expect(notices).toHaveLength(1);
    stopFollowing();
    await collector.accept(message(TOPIC, timed(1, 1.5)));
    expect(notices).toHaveLength(1);
    expect(collector.counters().total).toMatchObject({ stored: 2, duplicate: 1, conflict: 0 });
  });

  test('a file comes the same way in, with one outcome a piece however many hours it spans', async () => {
    const store = memoryStore('front-hall');
    const collector = collectorOver(store);
    const piece = (from: number, values: number[]) => ({
      loggerId: 'front-hall',
      channel: 'pressure' as const,
      unit: 'bar',
      arrivedMs: NOON_MS,
      timeMs: Float64Array.from(values, (_, i) => from + i * 1_800_000),
      value: Float64Array.from(values),
    });
    const outcomes = await collector.storePieces([piece(0, [1, 2, 3, 4, 5]), piece(0, [1, 9])]);
    expect(outcomes).toEqual([
      { stored: 5, duplicate: 0, conflict: 0 },
      { stored: 0, duplicate: 1, conflict: 1 },
    ]);
    expect(store.pieces).toHaveLength(4);
  });
});

describe('presence', () => {
  test('follows connections and the status topic', async () => {
    const clock = testClock();
    const collector = collectorOver(memoryStore('front-hall'), clock);
    const seen: LoggerPresence['state'][] = [];
    collector.onPresence(({ state }) => seen.push(state));
    expect(collector.presence('front-hall')).toMatchObject({ state: 'unknown' });
    await collector.accept(message('mainsdiary/front-hall/status', 'online', { retainedDelivery: true }));
    await collector.accept(message('mainsdiary/front-hall/status', 'offline'));
    collector.connectionOpened('front-hall');
    clock.set(NOON_MS + 5000);
    // The will of a connection that was taken over comes after the new one is open.
    await collector.accept(message('mainsdiary/front-hall/status', 'offline'));
    expect(collector.presence('front-hall')).toEqual({ loggerId: 'front-hall', state: 'online', sinceMs: NOON_MS });
    collector.connectionClosed('front-hall');
    expect(seen).toEqual(['online', 'offline', 'online', 'offline']);
  });
});

test('counters outlive a restart', async () => {
  const store = memoryStore('front-hall');
  const collector = collectorOver(store);
  await collector.accept(message(TOPIC, timed(0, 1)));
  await collector.accept(message(TOPIC, timed(0, 2)));
  await collector.accept(message('mainsdiary/nobody/pressure', '1'));
  await collector.stop();
  const restarted = collectorOver(store);
  await until(() => restarted.counters().total.messages === 3, 'the counters are read');
  expect(restarted.counters().loggers.get('front-hall')).toMatchObject({ messages: 2, stored: 1, conflict: 1 });
  expect(restarted.counters().unknown).toMatchObject({ messages: 1, refused: 1 });
});

test('a hundred thousand hostile messages: none throws, every entry is stored, known already, or refused', async () => {
  const store = memoryStore('front-hall', 'cellar');
  const collector = collectorOver(store);
  const topic = fc.oneof(
    { weight: 6, arbitrary: fc.constantFrom(...CHANNELS.map((channel) => `mainsdiary/front-hall/${channel}`)) },
    {
      weight: 1,
      arbitrary: fc.constantFrom('mainsdiary/cellar/status', 'mainsdiary/nobody/flow', 'mainsdiary/__proto__/flow'),
    },
    { weight: 1, arbitrary: fc.string({ unit: 'binary', maxLength: 30 }) },
  );
  const text = fc.oneof(
    fc.constantFrom(
      '1.5',
      'on',
      '-0',
      '1e400',
      '[',
      '[[[[',
      '{"value":1,"time":1e11}',
      '\ufeff1',
      '{"time":{},"value":{}}',
    ),
    fc.constantFrom(
      '[{"v":1,"bt":1e300}]',
      '[{"bver":11,"v":1}]',
      '[{"n":"a:pressure","v":1,"x_":0}]',
      '[{"bn":"a","bv":1},{}]',
    ),
    fc.json({ maxDepth: 3 }),
    fc.string({ unit: 'binary', maxLength: 60 }),
  );
  const bytes = fc.oneof(
    { weight: 3, arbitrary: text.map((t) => new Uint8Array(Buffer.from(t))) },
    { weight: 1, arbitrary: fc.uint8Array({ maxLength: 60 }) },
  );
  const hostile = fc.tuple(topic, bytes, fc.boolean());
  let sent = 0;
  for (const seed of [1, 2]) {
    // Generating is the slow part: each of the made messages comes five times, at other moments.
    const made = fc.sample(hostile, { numRuns: 10_000, seed });
    for (let round = 0; round < 5; round++) {
      for (let from = 0; from < made.length; from += 2000) {
        await Promise.all(
          made.slice(from, from + 2000).map(([to, payload, duplicate], i) => {
            sent += 1;
            return collector.accept(message(to, payload, { duplicate, arrivedMs: NOON_MS + round * 1000 + i }));
          }),
        );
      }
    }
  }
  expect(sent).toBe(100_000);
  const { total, unknown, loggers } = collector.counters();
  expect(total.messages).toBe(sent);
  expect(total.waiting).toBe(0);
  expect(total.refused).toBe(store.refused.length);
  for (const { reason, topic: shown, excerpt } of store.refused) {
    expect(reason.length).toBeGreaterThan(10);
    expect(shown.length).toBeLessThan(400);
    expect(excerpt.length).toBeLessThan(1300);
  }
  const kept = store.samples();
  expect(total.stored + total.duplicate + total.conflict).toBeGreaterThanOrEqual(kept.length);
  for (const { value, timeMs } of kept) expect(Number.isFinite(value) && Number.isFinite(timeMs)).toBe(true);
  const parts = [unknown, ...loggers.values()];
  expect(parts.reduce((sum, { messages }) => sum + messages, 0)).toBe(sent);
  expect([...loggers.keys()].sort()).toEqual(['cellar', 'front-hall']);
});

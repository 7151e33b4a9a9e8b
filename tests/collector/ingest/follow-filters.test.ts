import { describe, expect, test } from 'vitest';
import { followFilters, type SubscribingClient } from '../../../collector/ingest/follow-filters.ts';
import { createMappingBook } from '../../../collector/ingest/mapping-book.ts';
import { testLog, until } from './collector-under-test.ts';
import { memoryStore } from './memory-store.ts';

const mapped = (filter: string) => ({ mapping: { filter, channels: [{ channel: 'pressure' as const, value: '/p' }] } });

/** A broker's session as a client sees it: what it holds, and which filters it refuses (SUBACK 0x80). */
function session(refused: readonly string[] = []) {
  const held = new Set<string>();
  const client: SubscribingClient = {
    connected: true,
    subscribe(filter, _options, done) {
      if (refused.includes(filter)) return done(null, [{ qos: 128 }]);
      held.add(filter);
      return done(null, [{ qos: 1 }]);
    },
    unsubscribe(filter, done) {
      held.delete(filter);
      return done();
    },
  };
  return { held, client };
}

describe("devices' own filters at an outside broker", () => {
  test('one that it refuses is told, and the others are followed', async () => {
    const mappings = createMappingBook();
    mappings.set('a', mapped('hall/1'));
    mappings.set('b', mapped('secret/1'));
    const { held, client } = session(['secret/1']);
    followFilters({ mappings, store: memoryStore(), log: testLog() }).connected(client);
    await until(() => mappings.refusalOf('secret/1') !== undefined && held.has('hall/1'), 'both are answered');
    expect(mappings.refusalOf('hall/1')).toBeUndefined();
  });

  test('one that was taken away while nobody was there is given up at the next start', async () => {
    const store = memoryStore();
    const { held, client } = session();
    const before = createMappingBook();
    before.set('a', mapped('hall/1'));
    const follower = followFilters({ mappings: before, store, log: testLog() });
    follower.connected(client);
    await until(() => held.has('hall/1'), 'it is subscribed to');
    follower.stop();
    const after = createMappingBook();
    after.set('a', mapped('hall/2'));
    followFilters({ mappings: after, store, log: testLog() }).connected(client);
    await until(() => held.has('hall/2') && !held.has('hall/1'), 'the new one alone is held');
  });

  test('a hidden logger’s filter is not followed, a wildcard finds its logger', () => {
    const mappings = createMappingBook();
    mappings.set('a', { ...mapped('hall/#'), hiddenMs: 1 });
    expect(mappings.filters()).toEqual([]);
    mappings.set('a', mapped('hall/#'));
    expect(mappings.find('hall/1/state')?.loggerId).toBe('a');
    expect(mappings.find('cellar/1')).toBeUndefined();
    mappings.set('a', undefined);
    expect(mappings.find('hall/1/state')).toBeUndefined();
  });
});

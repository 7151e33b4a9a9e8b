import { afterEach, describe, expect, it } from 'vitest';
import { createCollector } from '../../collector/collector.ts';
import { readPayload } from '../../collector/ingest/read-payload.ts';
import { CHANNELS } from '../../collector/model/channel.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { temporaryFolder } from '../support/program.ts';
import { hostileMessage, randomFrom } from './hostile-corpus.ts';

/** HOSTILE_MESSAGES=1000000 asks for the million. */
const MESSAGES = Number(process.env['HOSTILE_MESSAGES'] ?? 20_000);
const SEED = 20260507;
const LIMIT_MS = 120_000 + MESSAGES * 2;
const AT_ONCE = 500;
const KNOWN_STATUS = /^mainsdiary\/(front-hall|cellar)\/status$/;
const NOON_MS = Date.UTC(2026, 4, 4, 12, 30);

const endings: (() => Promise<unknown> | unknown)[] = [];
afterEach(async () => {
  for (const end of endings.splice(0).reverse()) await end();
});

describe('hostile messages', () => {
  it(
    `${MESSAGES} payloads (seed ${SEED}): every entry of every one is read or refused with a reason, and none is both or neither`,
    () => {
      const random = randomFrom(SEED);
      for (let i = 0; i < MESSAGES; i++) {
        const { payload } = hostileMessage(random);
        const channel = CHANNELS[i % CHANNELS.length]!;
        const { accepted, refused } = readPayload(payload, channel, NOON_MS);
        if (accepted.length + refused.length === 0) throw new Error(`neither read nor refused: ${shown(payload)}`);
        const told = new Set<number | undefined>();
        for (const { index, reason } of refused) {
          if (reason.length < 10 || reason.length > 1000)
            throw new Error(`refused with "${reason}": ${shown(payload)}`);
          told.add(index);
        }
        for (const entry of accepted) {
          if (told.has(entry.index)) throw new Error(`entry ${entry.index} is both: ${shown(payload)}`);
          if (!Number.isFinite(entry.value)) throw new Error(`${entry.value} was read: ${shown(payload)}`);
          if (entry.atMs !== undefined && !Number.isSafeInteger(entry.atMs))
            throw new Error(`the time ${entry.atMs} was read: ${shown(payload)}`);
        }
      }
    },
    LIMIT_MS,
  );

  it(
    `${MESSAGES} messages through the way in to a real store (seed ${SEED}): none fails, the counters add up, memory stays`,
    async () => {
      let nowMs = NOON_MS;
      const clock = { nowMs: () => nowMs, every: () => () => undefined };
      const store = await openSqliteStore({ folder: temporaryFolder(), clock });
      endings.push(() => store.close());
      for (const id of ['front-hall', 'cellar']) {
        await store.putLogger({ id, createdMs: 0, keySha256: '' });
        for (const channel of CHANNELS) await store.addChannelSetting({ loggerId: id, channel, fromMs: 0, unit: 'V' });
      }
      const errors: string[] = [];
      const log = { info() {}, warn() {}, error: (_: object, text: string) => void errors.push(text) };
      const collector = createCollector({ store, clock, log });
      endings.push(() => collector.stop());
      const random = randomFrom(SEED);
      const memory: number[] = [];
      let counted = 0;
      for (let from = 0; from < MESSAGES; from += AT_ONCE) {
        await Promise.all(
          Array.from({ length: Math.min(AT_ONCE, MESSAGES - from) }, () => {
            const { topic, payload, qos, duplicate, retained } = hostileMessage(random);
            // What an outside broker had kept is no message, except a known logger's status.
            if (!retained || KNOWN_STATUS.test(topic)) counted += 1;
            nowMs += 1;
            return collector.accept({ topic, payload, qos, duplicate, retainedDelivery: retained, arrivedMs: nowMs });
          }),
        );
        memory.push(process.memoryUsage().rss / 1e6);
      }
      const { total, unknown, loggers } = collector.counters();
      expect(total.messages).toBe(counted);
      expect(total.waiting).toBe(0);
      expect(errors).toEqual([]);
      for (const name of ['messages', 'stored', 'duplicate', 'conflict', 'refused'] as const)
        expect([unknown, ...loggers.values()].reduce((sum, each) => sum + each[name], 0)).toBe(total[name]);
      expect([...loggers.keys()].sort()).toEqual(['cellar', 'front-hall']);
      let stored = 0;
      let refused = 0;
      for (const id of ['front-hall', 'cellar', undefined]) {
        if (id) for (const channel of CHANNELS) stored += (await store.extent(id, channel))?.count ?? 0;
        refused += await store.refusalCount(id);
        const kept = await store.refusals(id);
        expect(kept.length).toBeLessThanOrEqual(100);
        for (const { reason, topic, excerpt } of kept) {
          expect(reason.length).toBeGreaterThan(10);
          // biome-ignore lint/suspicious/noControlCharactersInRegex: none may be left
          expect(`${reason}${topic}${excerpt}`).not.toMatch(/[\u0000-\u001f\u007f-\u009f\u202a-\u202e]/);
        }
      }
      expect(stored).toBe(total.stored);
      expect(refused).toBe(total.refused);
      const settled = Math.max(...memory.slice(Math.floor(memory.length / 4), Math.ceil(memory.length / 2)));
      const end = Math.max(...memory.slice(Math.floor((memory.length * 3) / 4)));
      // A second half that needs more than the first did, and not only a collector's breath, is a leak.
      expect(end).toBeLessThan(settled * 1.25 + 60);
      console.log(
        `${MESSAGES} messages: ${counted} counted, ${total.stored} samples stored, ${total.duplicate} known, ${total.conflict} in conflict, ${total.refused} refused; memory ${settled.toFixed(0)} MB, at the end ${end.toFixed(0)} MB`,
      );
    },
    LIMIT_MS,
  );
});

function shown(payload: Uint8Array): string {
  return JSON.stringify(Buffer.from(payload.subarray(0, 300)).toString());
}

import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { type AddressInfo, createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Aedes } from 'aedes';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Channel } from '../../collector/model/channel.ts';
import type { Clock } from '../../collector/model/clock.ts';
import type { Store } from '../../collector/store/port.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { type DemoHistory, demoProperties, startDemoLoggers, writeDemoHistory } from '../../simulator/demo.ts';
import { DemoSensors, houseAt, reentryBefore } from '../../simulator/demo-house.ts';

const NOW_MS = Date.UTC(2026, 10, 12, 9, 41, 17);
const DAY_MS = 86_400_000;
const DIGEST = 'a'.repeat(64);

/** A clock that the test moves. */
function handClock(startMs: number): Clock & { move(ms: number): void } {
  let nowMs = startMs;
  const actions = new Set<() => void>();
  return {
    nowMs: () => nowMs,
    every: (_intervalMs, action) => {
      actions.add(action);
      return () => actions.delete(action);
    },
    move(ms) {
      nowMs += ms;
      for (const action of actions) action();
    },
  };
}

const folder = mkdtempSync(join(tmpdir(), 'demo-history-'));
let store: Store;
let history: DemoHistory;
let interrupted: unknown;

async function stored(loggerId: string, channel: Channel, fromMs: number, toMs: number): Promise<number[]> {
  const values: number[] = [];
  for await (const run of store.runs(loggerId, channel, fromMs, toMs)) values.push(...run.value);
  return values;
}

beforeAll(async () => {
  store = await openSqliteStore({ folder, clock: handClock(NOW_MS) });
  const stop = new AbortController();
  interrupted = await writeDemoHistory(
    store,
    NOW_MS,
    (share) => share > 0.3 && stop.abort(),
    stop.signal,
    () => DIGEST,
  ).catch((error: unknown) => error);
  history = await writeDemoHistory(
    store,
    NOW_MS,
    () => {},
    undefined,
    () => DIGEST,
  );
});

afterAll(async () => {
  await store.close();
  rmSync(folder, { recursive: true });
});

describe('demo history', () => {
  it('is interrupted cleanly, and the next start goes on to the end', () => {
    expect(interrupted).toMatchObject({ code: 'interrupted' });
    expect(history).toMatchObject({ written: true, endMs: Math.floor(NOW_MS / 1000) * 1000 });
  });

  it('holds every second of at least 28 days up to the start, on every channel', async () => {
    expect(history.endMs - history.startMs).toBeGreaterThanOrEqual(28 * DAY_MS);
    for (const property of demoProperties()) {
      for (const logger of property.loggers) {
        for (const { channel } of logger.channels) {
          expect(await store.extent(logger.id, channel)).toEqual({
            firstMs: history.startMs,
            lastMs: history.endMs - 1000,
            count: (history.endMs - history.startMs) / 1000,
          });
        }
      }
    }
  });

  it('marks its sites as invented and places each logger from the start', async () => {
    for (const property of demoProperties()) {
      expect(await store.site(property.siteId)).toMatchObject({ name: property.name, invented: true });
      for (const logger of property.loggers) {
        expect(await store.placements(logger.id)).toMatchObject([
          { fromMs: history.startMs, siteId: property.siteId, position: logger.position },
        ]);
        expect((await store.logger(logger.id))?.keySha256).toBe(DIGEST);
        expect((await store.channelSettings(logger.id)).map((setting) => setting.channel).sort()).toEqual(
          logger.channels.map((one) => one.channel).sort(),
        );
      }
    }
  });

  it('is written once: a later start leaves it and the owner’s changes alone', async () => {
    const site = (await store.site('demo-3-model-terrace'))!;
    await store.putSite({ ...site, name: 'renamed' });
    const again = await writeDemoHistory(store, NOW_MS + 3 * DAY_MS);
    expect(again).toEqual({ ...history, written: false });
    expect((await store.site('demo-3-model-terrace'))?.name).toBe('renamed');
    await store.putSite(site);
  });

  it('ends with the very seconds from which the live loggers go on', async () => {
    const fromMs = history.endMs - 3_600_000;
    for (const property of demoProperties()) {
      const house = houseAt(property, history.plannedAtMs, reentryBefore(history.endMs), fromMs);
      const columns = house.next(3600);
      const logger = property.loggers[0]!;
      const truth = logger.position === 'pump_inlet' ? columns.inletBar! : columns.pressureBar;
      const values = await stored(logger.id, 'pressure', fromMs, history.endMs);
      expect(values).toHaveLength(3600);
      for (let i = 0; i < 3600; i++) {
        expect(Math.abs(values[i]! - truth[i]! - property.offsetBar)).toBeLessThan(6 * property.noiseBar);
      }
    }
  });

  it('shows low mornings on Sample Row and none on Model Terrace', async () => {
    const least = async (loggerId: string): Promise<number> => {
      const [hours] = await store.summaries(loggerId, 'pressure', history.startMs, history.endMs, 'hour');
      return Math.min(...hours!.summary.mean);
    };
    expect(await least('sample-row-12')).toBeLessThan(0.7);
    expect(await least('model-terrace-3')).toBeGreaterThan(1.5);
  });
});

describe('demo loggers', () => {
  let broker: Aedes;
  let server: Server;
  let url: string;
  const samples = new Map<string, { time: number; value: number }[]>();

  beforeAll(async () => {
    broker = await Aedes.createBroker();
    broker.on('publish', (packet, client) => {
      if (!client || packet.topic.endsWith('/status')) return;
      const content = JSON.parse(packet.payload.toString()) as { time: number; value: number };
      const list = samples.get(packet.topic) ?? [];
      samples.set(packet.topic, list.concat(content));
    });
    server = createServer(broker.handle);
    server.listen(0, '127.0.0.1');
    await once(server, 'listening');
    url = `mqtt://127.0.0.1:${(server.address() as AddressInfo).port}`;
  });

  afterAll(async () => {
    await new Promise<void>((resolve) => broker.close(() => resolve()));
    server.close();
  });

  it('go on from the history’s end without a seam, second by second, and leave a gap after a long sleep', async () => {
    const ids = demoProperties().flatMap((property) => property.loggers.map((logger) => logger.id));
    const clock = handClock(history.endMs + 12_300);
    const loggers = await startDemoLoggers({
      brokerUrl: url,
      loggers: ids.map((id) => ({ id, key: 'k' })),
      nowMs: clock.nowMs(),
      clock,
      plannedAtMs: history.plannedAtMs,
      continueFromMs: history.endMs,
    });
    for (let i = 0; i < 5; i++) clock.move(1000);
    clock.move(3 * 3_600_000);
    clock.move(1000);
    const channels = demoProperties().flatMap((p) => p.loggers.flatMap((l) => l.channels)).length;
    const wanted = 13 + 5 + 2;
    await expect.poll(() => loggers.published()).toBe(channels * wanted);
    await loggers.stop();

    const property = demoProperties()[0]!;
    const times = samples
      .get('mainsdiary/sample-row-12/pressure')!
      .map((sample) => (sample.time - history.endMs) / 1000);
    expect(times.slice(0, 18)).toEqual(Array.from({ length: 18 }, (_, i) => i));
    expect(times.slice(18)).toEqual([3 * 3600 + 17, 3 * 3600 + 18]);
    const house = houseAt(property, history.plannedAtMs, reentryBefore(history.endMs), history.endMs);
    const columns = house.next(18);
    const wantedValues = new DemoSensors(property, `live-${history.endMs}`).read(
      property.loggers[0]!,
      'pressure',
      columns,
    );
    const values = samples.get('mainsdiary/sample-row-12/pressure')!.map((sample) => sample.value);
    for (let i = 0; i < 18; i++) expect(Math.abs(values[i]! - wantedValues[i]!)).toBeLessThan(10 * property.noiseBar);
  });
});

import { startOfLocalDay } from '../collector/model/local-time.ts';
import { Problem } from '../collector/model/problem.ts';
import type { Piece, Store } from '../collector/store/port.ts';
import { DemoSensors, houseAt, reentryBefore } from './demo-house.ts';
import { type DemoProperty, demoProperties } from './demo-properties.ts';
import { House } from './house.ts';

export { type DemoLoggerKey, type DemoLoggers, startDemoLoggers } from './demo-live.ts';
export { type DemoChannel, type DemoLogger, type DemoProperty, demoProperties } from './demo-properties.ts';

const HISTORY_DAYS = 28;
const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;
/** Hours that share a transaction: few enough to keep the event loop free, enough to make commits rare. */
const HOURS_A_COMMIT = 6;
const STATE_NAME = 'demo-history';

export interface DemoHistory {
  /** The moment of the first start: the demonstration's events are counted from it. */
  readonly plannedAtMs: number;
  readonly startMs: number;
  /** The first second that is not history. */
  readonly endMs: number;
  /** False where an earlier start had written it. */
  readonly written: boolean;
}

interface SavedState {
  plannedAtMs: number;
  startMs: number;
  endMs: number;
  complete: boolean;
  /** Up to where each property's history is stored. */
  writtenToMs: Record<string, number>;
}

/**
 * Writes at least 28 days of invented history at 1 Hz, up to `nowMs`, with sites, loggers, placements and settings; resolves
 * when all is committed. A second call with the same store writes nothing; one that was interrupted goes on where it
 * stopped. `keySha256Of` gives the digest of a logger's key (without it no demo logger can connect).
 * Rejects with Problem `interrupted` when the signal comes.
 */
export async function writeDemoHistory(
  store: Store,
  nowMs: number,
  onProgress: (fraction: number, words: string) => void = () => {},
  signal?: AbortSignal,
  keySha256Of: (loggerId: string) => string = () => '',
): Promise<DemoHistory> {
  const saved = await readState(store);
  if (saved?.complete) {
    const { plannedAtMs, startMs, endMs } = saved;
    return { plannedAtMs, startMs, endMs, written: false };
  }
  const properties = demoProperties();
  const endMs = Math.floor(nowMs / 1000) * 1000;
  const plannedAtMs = saved?.plannedAtMs ?? endMs;
  const startMs =
    saved?.startMs ?? startOfLocalDay(plannedAtMs - HISTORY_DAYS * DAY_MS, properties[0]?.timeZone ?? 'UTC');
  const state: SavedState = { plannedAtMs, startMs, endMs, complete: false, writtenToMs: saved?.writtenToMs ?? {} };
  await store.putState(STATE_NAME, JSON.stringify(state));
  for (const property of properties) await addProperty(store, property, startMs, keySha256Of);

  const spanMs = endMs - startMs;
  for (const [index, property] of properties.entries()) {
    const fromMs = Math.min(endMs, state.writtenToMs[property.siteId] ?? startMs);
    for await (const writtenToMs of writeProperty(store, property, state, fromMs, signal)) {
      state.writtenToMs[property.siteId] = writtenToMs;
      const share = (writtenToMs - startMs) / spanMs;
      onProgress(
        (index + share) / properties.length,
        `${property.name}: ${Math.floor((writtenToMs - startMs) / DAY_MS)} of ${Math.floor(spanMs / DAY_MS)} days of invented history`,
      );
      await store.putState(STATE_NAME, JSON.stringify(state));
    }
  }
  state.complete = true;
  await store.putState(STATE_NAME, JSON.stringify(state));
  return { plannedAtMs, startMs, endMs, written: true };
}

/** Stores [fromMs, end) in pieces of one UTC hour; yields up to where it is committed. */
async function* writeProperty(
  store: Store,
  property: DemoProperty,
  state: SavedState,
  fromMs: number,
  signal: AbortSignal | undefined,
): AsyncGenerator<number> {
  const { endMs, plannedAtMs, startMs } = state;
  // The last stretch begins where the live loggers will enter the simulation, so that they go on without a seam.
  const reentryMs = Math.max(startMs, reentryBefore(endMs));
  let house: House | undefined;
  let pieces: Piece[] = [];
  for (let at = fromMs; at < endMs; ) {
    if (signal?.aborted)
      throw new Problem('interrupted', 'The demo history was not finished.', 'Start again: it goes on from here.');
    if (at === reentryMs) house = undefined;
    house ??=
      at === startMs
        ? new House(property.plan(plannedAtMs), startMs)
        : houseAt(property, plannedAtMs, at >= reentryMs ? reentryMs : reentryBefore(at), at);
    const to = Math.min(endMs, (Math.floor(at / HOUR_MS) + 1) * HOUR_MS);
    const columns = house.next((to - at) / 1000);
    // Chance begins anew each hour: an hour that is written again after a crash is the same hour.
    const sensors = new DemoSensors(property, `history-${at}`);
    const timeMs = Float64Array.from(columns.pressureBar, (_, i) => columns.startMs + i * 1000);
    for (const logger of property.loggers) {
      for (const { channel, unit } of logger.channels) {
        const value = sensors.read(logger, channel, columns);
        pieces.push({ loggerId: logger.id, channel, unit, arrivedMs: to, timeMs, value });
      }
    }
    at = to;
    await new Promise((resolve) => setImmediate(resolve));
    if (at === endMs || (at / HOUR_MS) % HOURS_A_COMMIT === 0) {
      await store.store(pieces);
      pieces = [];
      yield at;
    }
  }
}

async function addProperty(
  store: Store,
  property: DemoProperty,
  startMs: number,
  keySha256Of: (loggerId: string) => string,
): Promise<void> {
  const { siteId, name, timeZone, thresholds } = property;
  await store.putSite({ id: siteId, name, timeZone, createdMs: startMs, thresholds, invented: true });
  for (const logger of property.loggers) {
    await store.putLogger({ id: logger.id, createdMs: startMs, keySha256: keySha256Of(logger.id) });
    const placements = await store.placements(logger.id);
    if (placements.length === 0) {
      const { position, heightAboveSupplyPointM } = logger;
      await store.addPlacement({ loggerId: logger.id, fromMs: startMs, siteId, position, heightAboveSupplyPointM });
    }
    for (const { channel, unit, rangeBar, accuracyBar } of logger.channels) {
      await store.addChannelSetting({
        loggerId: logger.id,
        channel,
        fromMs: startMs,
        unit,
        ...(rangeBar ? { rangeBar } : {}),
        ...(accuracyBar === undefined ? {} : { accuracyBar }),
        intervalS: 1,
      });
    }
  }
}

async function readState(store: Store): Promise<SavedState | undefined> {
  const text = await store.state(STATE_NAME);
  return text === undefined ? undefined : (JSON.parse(text) as SavedState);
}

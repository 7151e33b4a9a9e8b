import type { Channel } from '../model/channel.ts';
import { SAMPLE_FLAG } from '../model/series.ts';
import type { EpochMs } from '../model/units.ts';
import type { Log, StoredNotice } from '../ports.ts';
import { loggerState, type Settings } from '../store/port.ts';
import {
  type ClockJump,
  type ClockRecord,
  clockDuring,
  clockNow,
  noteArrival,
  openClockRecord,
} from './clock-record.ts';
import type { ClockEstimate } from './estimate-clock.ts';

/** What a logger's clock is like at present. */
export interface ClockState {
  /** `none`: its readings carry no time, that of arrival stands in. `unknown`: too little is known yet. */
  readonly kind: 'none' | 'unknown' | 'known';
  readonly estimate: ClockEstimate | undefined;
  /** Ascending; the newest few. */
  readonly jumps: readonly ClockJump[];
}

/** All loggers' clocks, judged from what arrives. */
export interface ClockBook {
  /** Samples were stored: a listener of the collector. Cheap; it is called for every message. */
  stored(notice: StoredNotice): void;
  state(loggerId: string): Promise<ClockState>;
  during(loggerId: string, fromMs: EpochMs, toMs: EpochMs): Promise<ReturnType<typeof clockDuring>>;
  /** Loggers heard since the start, with what is known of them. */
  known(): { readonly loggerId: string; readonly estimate: ClockEstimate }[];
  /** The logger was erased, and with it what the store kept of its clock. */
  forget(loggerId: string): void;
  /** Keeps what would be lost. */
  stop(): Promise<void>;
}

interface Page {
  /** Undefined while what was kept is being read. */
  record: ClockRecord | undefined;
  readonly ready: Promise<void>;
  /** One channel stands for its logger: pressure, where its readings carry times. */
  channel: Channel | undefined;
  timeless: boolean;
  keptAtMs: EpochMs | undefined;
}

/** A record is written this often while its logger is heard (some 10 kB); what a crash forgets is measured anew. */
const KEEP_EVERY_MS = 6 * 3_600_000;
/** Each record kept is a write to the disk of its own: not all loggers' at one moment, and at the end of a few only. */
const KEPT_APART_MS = 100_000;
const KEPT_AT_THE_END = 100;
/** By this name the store erases it with its logger. */
const stateName = (loggerId: string) => loggerState(loggerId, 'clock');

export function createClockBook(needs: { store: Pick<Settings, 'state' | 'putState'>; log: Log }): ClockBook {
  const { store, log } = needs;
  const pages = new Map<string, Page>();

  function pageOf(loggerId: string): Page {
    const known = pages.get(loggerId);
    if (known) return known;
    const page: Page = { record: undefined, ready: load(), channel: undefined, timeless: false, keptAtMs: undefined };
    async function load(): Promise<void> {
      const kept = await store.state(stateName(loggerId)).catch(() => undefined);
      page.record = readKept(kept);
    }
    pages.set(loggerId, page);
    return page;
  }

  async function keep(loggerId: string, { record }: Page): Promise<void> {
    if (record === undefined || record.points.length === 0) return;
    try {
      await store.putState(stateName(loggerId), writeKept(record));
    } catch (error) {
      log.warn({ err: error, loggerId }, "what is known of a logger's clock could not be kept");
    }
  }

  return {
    stored({ loggerId, channel, arrivedMs, timeMs, flags }) {
      const page = pageOf(loggerId);
      if (flags !== undefined && (flags[0]! & SAMPLE_FLAG.timeOfArrival) !== 0) {
        if (page.channel === undefined || page.channel === channel) page.timeless = true;
        return;
      }
      if (page.channel === undefined || channel === 'pressure') page.channel = channel;
      if (page.record === undefined || page.channel !== channel) return;
      page.timeless = false;
      let newestMs = timeMs[timeMs.length - 1]!;
      for (let i = 0; i < timeMs.length; i++) if (timeMs[i]! > newestMs) newestMs = timeMs[i]!;
      const changed = noteArrival(page.record, { arrivedMs, newestMs });
      if (!changed) return;
      page.keptAtMs ??= arrivedMs - ((pages.size * KEPT_APART_MS) % KEEP_EVERY_MS);
      if (arrivedMs - page.keptAtMs < KEEP_EVERY_MS) return;
      page.keptAtMs = arrivedMs;
      void keep(loggerId, page);
    },
    async state(loggerId) {
      const page = pageOf(loggerId);
      await page.ready;
      const record = page.record!;
      const estimate = record.known?.estimate ?? clockNow(record);
      const kind = page.timeless ? 'none' : estimate === undefined ? 'unknown' : 'known';
      return { kind, estimate: kind === 'known' ? estimate : undefined, jumps: record.jumps };
    },
    async during(loggerId, fromMs, toMs) {
      const page = pageOf(loggerId);
      await page.ready;
      return clockDuring(page.record!, fromMs, toMs);
    },
    known: () =>
      [...pages].flatMap(([loggerId, { record, timeless }]) =>
        record?.known && !timeless ? [{ loggerId, estimate: record.known.estimate }] : [],
      ),
    forget: (loggerId) => void pages.delete(loggerId),
    async stop() {
      for (const [loggerId, page] of [...pages].slice(0, KEPT_AT_THE_END)) await keep(loggerId, page);
    },
  };
}

/** Points and jumps as pairs of whole milliseconds. */
function writeKept({ points, jumps }: ClockRecord): string {
  return JSON.stringify({
    points: points.map(({ arrivedMs, lagMs }) => [arrivedMs, Math.round(lagMs)]),
    jumps: jumps.map(({ atMs, byMs }) => [atMs, Math.round(byMs)]),
  });
}

function readKept(text: string | undefined): ClockRecord {
  if (!text) return openClockRecord();
  try {
    const kept = JSON.parse(text) as { points: [number, number][]; jumps: [number, number][] };
    return openClockRecord(
      kept.points.map(([arrivedMs, lagMs]) => ({ arrivedMs, lagMs })),
      kept.jumps.map(([atMs, byMs]) => ({ atMs, byMs })),
    );
  } catch {
    return openClockRecord();
  }
}

import type { EpochMs } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';
import { analysisSite, type RecordSources, readRecord } from './assemble-analysis.ts';
import { JOIN_BEFORE_MS, MOST_WATCHED_ROWS } from './kept-watches.ts';
import { recordDigest } from './record-digest.ts';
import type { WorkerPool } from './worker-pool.ts';

/** What the analysis asks of the whole log (noise, tap law) is made anew after a day, as habits and seasons change. */
const PARAMETERS_LAST_MS = 86_400_000;
/** And once the log has grown by a quarter: a young log tells more of them by the hour. */
const GROWN_TO = 1.25;
/** A channel that is further behind than this is thought to have ended; should it go on, the watch begins anew. */
const LONGEST_BEHIND_MS = 15 * 60_000;
/** Watches remembered; which of them are still kept, the worker knows. */
const MOST_REMEMBERED = 64;

interface Remembered {
  /** Everything but samples that the answer rests on. */
  readonly settings: string;
  readonly fromMs: EpochMs;
  readonly begunToMs: EpochMs;
  toMs: EpochMs;
  /** Up to there all channels had spoken; rows from there on are taken in again. */
  knownToMs: EpochMs;
  /** Of all channels' samples before that. */
  digest: string;
}

/**
 * Findings of logs that are asked for again and again while they grow: a watch stays in a worker and is stepped over what
 * came since; rows that join several channels are taken in again until the slowest has spoken. It begins anew where anything else changed: a setting, a late sample, an import, the analysis's parameters
 * being due. A worker that nobody asks for a minute ends, with what it holds.
 */
export interface RunningWatches {
  canWatch(sources: RecordSources): Promise<boolean>;
  /** Packed findings of the stay until its end; undefined where the watch is past it. */
  answer(sources: RecordSources): Promise<Uint8Array | undefined>;
}

export function createRunningWatches(needs: { store: Store; pool: WorkerPool }): RunningWatches {
  const { store, pool } = needs;
  const known = new Map<string, Remembered>();
  const turns = new Map<string, Promise<unknown>>();

  async function digestOf(sources: RecordSources, toMs: EpochMs): Promise<string> {
    const { loggerId, fromMs } = sources.stretch;
    const digests = [await recordDigest(store, loggerId, 'pressure', fromMs, toMs)];
    for (const { logger, channel } of besideOf(sources)) {
      digests.push(await recordDigest(store, logger, channel, fromMs, toMs));
    }
    return digests.join(' ');
  }

  /** The time up to which every channel has spoken, or has been silent for long. */
  async function spokenTo(sources: RecordSources): Promise<EpochMs> {
    const { toMs, fromMs } = sources.stretch;
    let knownMs = toMs;
    for (const { logger, channel } of besideOf(sources)) {
      const lastMs = (await store.extent(logger, channel))?.lastMs;
      knownMs = Math.min(knownMs, lastMs === undefined ? toMs : lastMs + 1);
    }
    return Math.max(knownMs, toMs - LONGEST_BEHIND_MS, fromMs);
  }

  function remember(name: string, watch: Remembered): void {
    known.delete(name);
    known.set(name, watch);
    for (const oldest of known.keys()) {
      if (known.size <= MOST_REMEMBERED) return;
      known.delete(oldest);
    }
  }

  async function stepped(name: string, sources: RecordSources, watch: Remembered): Promise<Uint8Array | undefined> {
    const { stretch } = sources;
    const isDue =
      stretch.toMs - watch.begunToMs >= PARAMETERS_LAST_MS ||
      stretch.toMs - watch.fromMs >= GROWN_TO * (watch.begunToMs - watch.fromMs);
    if (isDue || (await digestOf(sources, watch.knownToMs)) !== watch.digest) return undefined;
    // Before the samples are read: one that comes in between makes the next digest differ, and is not overlooked.
    const knownToMs = Math.max(watch.knownToMs, await spokenTo(sources));
    const digest = await digestOf(sources, knownToMs);
    const fromMs = watch.knownToMs;
    const bytes = await pool.run(async () => {
      const besideFromMs = Math.max(stretch.fromMs, fromMs - JOIN_BEFORE_MS);
      const recorded = await readRecord(store, { ...sources, stretch: { ...stretch, fromMs } }, besideFromMs);
      return { kind: 'step', watch: name, recorded, fromMs };
    });
    if (bytes.byteLength === 0) return undefined;
    remember(name, Object.assign(watch, { toMs: stretch.toMs, knownToMs, digest }));
    return bytes;
  }

  async function begun(name: string, sources: RecordSources, settings: string): Promise<Uint8Array> {
    const { fromMs, toMs } = sources.stretch;
    known.delete(name);
    const knownToMs = await spokenTo(sources);
    const digest = await digestOf(sources, knownToMs);
    const site = analysisSite(sources);
    const bytes = await pool.run(async () => {
      const recorded = await readRecord(store, sources);
      return { kind: 'watch', watch: name, recorded, site };
    });
    remember(name, { settings, fromMs, begunToMs: toMs, toMs, knownToMs, digest });
    return bytes;
  }

  async function made(name: string, sources: RecordSources): Promise<Uint8Array | undefined> {
    const settings = JSON.stringify({ ...sources, stretch: { ...sources.stretch, toMs: undefined } });
    const watch = known.get(name);
    if (watch?.settings !== settings) return begun(name, sources, settings);
    if (sources.stretch.toMs < watch.toMs) return undefined;
    return (await stepped(name, sources, watch)) ?? begun(name, sources, settings);
  }

  return {
    async canWatch({ stretch }) {
      const extent = await store.extent(stretch.loggerId, 'pressure');
      return extent !== undefined && extent.count <= MOST_WATCHED_ROWS;
    },
    answer(sources) {
      const name = `${sources.stretch.loggerId} ${sources.stretch.fromMs}`;
      const answer = (turns.get(name) ?? Promise.resolve()).then(() => made(name, sources));
      const turn = answer.catch(() => undefined);
      turns.set(name, turn);
      void turn.then(() => {
        if (turns.get(name) === turn) turns.delete(name);
      });
      return answer;
    },
  };
}

/** The channels that are joined to a stay's pressure. */
function besideOf({ flowLogger, pumpLogger, inletLogger }: RecordSources) {
  const beside: { readonly logger: string; readonly channel: 'flow' | 'pump' | 'pressure' }[] = [];
  if (flowLogger !== undefined) beside.push({ logger: flowLogger, channel: 'flow' });
  if (pumpLogger !== undefined) beside.push({ logger: pumpLogger, channel: 'pump' });
  if (inletLogger !== undefined) beside.push({ logger: inletLogger, channel: 'pressure' });
  return beside;
}

import type { EpochMs } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';
import { analysisSite, type RecordSources, readRecord } from './assemble-analysis.ts';
import { MOST_WATCHED_ROWS } from './kept-watches.ts';
import { recordDigest } from './record-digest.ts';
import type { WorkerPool } from './worker-pool.ts';

/** What the analysis asks of the whole log (noise, tap law) is made anew after a day, as habits and seasons change. */
const PARAMETERS_LAST_MS = 86_400_000;
/** And once the log has grown by a quarter: a young log tells more of them by the hour. */
const GROWN_TO = 1.25;
/** Watches remembered; which of them are still kept, the worker knows. */
const MOST_REMEMBERED = 64;

interface Remembered {
  /** Everything but samples that the answer rests on. */
  readonly settings: string;
  readonly fromMs: EpochMs;
  readonly begunToMs: EpochMs;
  toMs: EpochMs;
  /** Of the samples that the watch has seen. */
  digest: string;
}

/**
 * Findings of logs that are asked for again and again while they grow: a watch stays in a worker and is stepped over what
 * came since. It begins anew where anything else changed: a setting, a late sample, an import, the analysis's parameters
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

  const digestOf = ({ stretch: { loggerId, fromMs } }: RecordSources, toMs: EpochMs) =>
    recordDigest(store, loggerId, 'pressure', fromMs, toMs);

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
    if (isDue || (await digestOf(sources, watch.toMs)) !== watch.digest) return undefined;
    // Before the samples are read: one that comes in between makes the next digest differ, and is not overlooked.
    const digest = await digestOf(sources, stretch.toMs);
    const bytes = await pool.run(async () => {
      const { pressure } = await readRecord(store, { ...sources, stretch: { ...stretch, fromMs: watch.toMs } });
      return { kind: 'step', watch: name, pressure };
    });
    if (bytes.byteLength === 0) return undefined;
    remember(name, Object.assign(watch, { toMs: stretch.toMs, digest }));
    return bytes;
  }

  async function begun(name: string, sources: RecordSources, settings: string): Promise<Uint8Array> {
    const { fromMs, toMs } = sources.stretch;
    known.delete(name);
    const digest = await digestOf(sources, toMs);
    const site = analysisSite(sources);
    const bytes = await pool.run(async () => {
      const recorded = await readRecord(store, sources);
      return { kind: 'watch', watch: name, recorded, site };
    });
    remember(name, { settings, fromMs, begunToMs: toMs, toMs, digest });
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
    async canWatch({ stretch, flowLogger, pumpLogger, inletLogger }) {
      // Rows that join several channels may change while the slower one catches up: those are read at once.
      if (flowLogger !== undefined || pumpLogger !== undefined || inletLogger !== undefined) return false;
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

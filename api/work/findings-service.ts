import { createHash } from 'node:crypto';
import type { Clock } from '../../collector/model/clock.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { Store } from '../../collector/store/port.ts';
import { FINDINGS_SPAN_LIMIT_DAYS } from '../contract/site-payloads.ts';
import { type AskedSpan, closedSpan } from './asked-span.ts';
import { analysisSite, type RecordSources, readRecord } from './assemble-analysis.ts';
import { createFindingsCache } from './findings-cache.ts';
import { createOpenEnds } from './open-ends.ts';
import { type FindingsSummary, unpackFindings } from './packed-findings.ts';
import { recordDigest } from './record-digest.ts';
import { recordedExtent, recordSources, staysAt } from './record-sources.ts';
import { clipStretch, type RecordStretch, recordStretches } from './record-stretch.ts';
import { createRunningWatches } from './running-watches.ts';
import type { WorkerPool } from './worker-pool.ts';

/** Logs that grow and whose newest answer is remembered. */
const MOST_GROWING = 1_000;
/** Answers kept of a log that grows: its site's and its own may have settled on different ends. */
const ANSWERS_A_LOG = 4;
const SPAN_LIMIT_MS = FINDINGS_SPAN_LIMIT_DAYS * 86_400_000;

/** Findings of one stay: the document as JSON text, and what it was made from. */
export interface MadeFindings {
  readonly json: Uint8Array;
  /** What can be said and how many findings there are, without parsing the document. */
  summary(): FindingsSummary;
  readonly sources: RecordSources;
  readonly fromMs: number;
  readonly toMs: number;
}

/** Answers to a span without an end may be a minute old, or ten times what they took: `toMs` says until when they reach. */
export interface FindingsService {
  /** Findings of a logger: of its newest stay in the span, since a stay in another house is another record. */
  ofLogger(loggerId: string, span: AskedSpan, until?: Until): Promise<MadeFindings>;
  /** Findings of every logger that recorded at a site, the one that speaks for the site first; empty before the first. */
  ofSite(siteId: string, span: AskedSpan, until?: Until): Promise<MadeFindings[]>;
}

/** Where an open end is put: where it stood a little while ago, or at the newest sample; who asks next gets the same. */
export type Until = 'settled' | 'newest';

/** Makes findings from what is stored, beside the main thread, and keeps them as long as nothing they rest on changes. */
export function createFindingsService(needs: {
  store: Store;
  pool: WorkerPool;
  /** Of one worker, which keeps watches over logs that grow. */
  watchPool: WorkerPool;
  clock: Clock;
}): FindingsService {
  const { store, pool, clock } = needs;
  const cache = createFindingsCache();
  const watches = createRunningWatches({ store, pool: needs.watchPool });
  /** Of the newest answers about logs that grow. */
  const newestKeys = new Map<string, readonly string[]>();
  const openEnds = createOpenEnds(clock);

  /** The span to answer, and whom to tell how long the answer took. */
  function spanOf(question: string, asked: AskedSpan, until: Until, recorded: Parameters<typeof closedSpan>[1]) {
    const nowMs = clock.nowMs();
    const exact = closedSpan(asked, recorded, SPAN_LIMIT_MS, nowMs);
    if (asked.toMs !== undefined) return { ...exact, took: () => {} };
    const name = `${question} ${asked.fromMs}`;
    if (until === 'newest') openEnds.renew(name, exact.toMs);
    const toMs = openEnds.settle(name, exact.toMs);
    const span = toMs === exact.toMs ? exact : closedSpan({ ...asked, toMs }, recorded, SPAN_LIMIT_MS, nowMs);
    return { ...span, took: () => openEnds.took(name, toMs, clock.nowMs() - nowMs) };
  }

  async function findings(stretch: RecordStretch, grows: boolean): Promise<MadeFindings> {
    const sources = await recordSources(store, stretch);
    const key = await keyOf(store, sources);
    const readAtOnce = () =>
      pool.run(async () => ({
        kind: 'findings',
        recorded: await readRecord(store, sources),
        site: analysisSite(sources),
      }));
    const packed = await cache.get(key, async () => {
      if (!grows || !(await watches.canWatch(sources))) return readAtOnce();
      return (await watches.answer(sources)) ?? readAtOnce();
    });
    if (grows) supersede(`${stretch.loggerId} ${stretch.fromMs}`, key);
    return { ...unpackFindings(packed), sources, fromMs: stretch.fromMs, toMs: stretch.toMs };
  }

  /** While a log grows every answer has a new key: the older ones need no place in the cache. */
  function supersede(log: string, key: string): void {
    const keys = [...(newestKeys.get(log) ?? []).filter((before) => before !== key), key];
    for (const old of keys.splice(0, keys.length - ANSWERS_A_LOG)) cache.drop(old);
    newestKeys.delete(log);
    newestKeys.set(log, keys);
    for (const oldest of newestKeys.keys()) {
      if (newestKeys.size <= MOST_GROWING) return;
      newestKeys.delete(oldest);
    }
  }

  return {
    async ofLogger(loggerId, span, until = 'settled') {
      const { fromMs, toMs, took } = spanOf(`logger ${loggerId}`, span, until, await recordedExtent(store, loggerId));
      const stays = recordStretches(await store.placements(loggerId)).flatMap(
        (stretch) => clipStretch(stretch, fromMs, toMs) ?? [],
      );
      const unplaced: RecordStretch = {
        loggerId,
        siteId: undefined,
        position: 'incoming',
        fromMs,
        toMs,
        heights: [],
      };
      const made = await findings(stays.at(-1) ?? unplaced, span.toMs === undefined);
      took();
      return made;
    },
    async ofSite(siteId, span, until = 'settled') {
      const everything = await staysAt(store, siteId, Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY);
      const withPressure = new Set<string>();
      const recorded = (
        await Promise.all(
          everything.map(async (stay) => {
            const extent = await recordedExtent(store, stay.loggerId);
            if (extent?.of === 'pressure') withPressure.add(stay.loggerId);
            return extent && clipStretch(stay, extent.firstMs, extent.lastMs + 1);
          }),
        )
      ).filter((stay) => stay !== undefined);
      const extent = recorded.length > 0 && {
        firstMs: Math.min(...recorded.map((stay) => stay.fromMs)),
        lastMs: Math.max(...recorded.map((stay) => stay.toMs)) - 1,
      };
      const { fromMs, toMs, took } = spanOf(`site ${siteId}`, span, until, extent || undefined);
      const stays = newestOfEach(everything.flatMap((stay) => clipStretch(stay, fromMs, toMs) ?? []));
      // Pressure speaks before a meter, the street before the pump, one that recorded in the span before one that didn't.
      const spoke = (stay: RecordStretch) =>
        recorded.some((other) => other.loggerId === stay.loggerId && clipStretch(other, stay.fromMs, stay.toMs));
      const rank = (stay: RecordStretch) =>
        (withPressure.has(stay.loggerId) ? 0 : 100) + 10 * RANK_OF_POSITION[stay.position] + (spoke(stay) ? 0 : 1);
      stays.sort((a, b) => rank(a) - rank(b) || a.loggerId.localeCompare(b.loggerId));
      // One after another: each may hold a year's columns.
      const made: MadeFindings[] = [];
      for (const stay of stays) made.push(await findings(stay, span.toMs === undefined));
      took();
      return made;
    },
  };
}

const RANK_OF_POSITION = { incoming: 0, pump_outlet: 1, pump_inlet: 2 } as const;

/** A logger that went and came back has two stays; the newer one stands for it. */
function newestOfEach(stays: readonly RecordStretch[]): RecordStretch[] {
  const byLogger = new Map<string, RecordStretch>();
  for (const stay of stays) {
    const before = byLogger.get(stay.loggerId);
    if (!before || before.fromMs < stay.fromMs) byLogger.set(stay.loggerId, stay);
  }
  return [...byLogger.values()];
}

/** Changes whenever a sample in the span, a setting, a calibration or the site's limits do. */
async function keyOf(store: Store, sources: RecordSources): Promise<string> {
  const { stretch } = sources;
  const digest = (loggerId: string | undefined, channel: 'pressure' | 'flow' | 'pump') =>
    loggerId === undefined ? '' : recordDigest(store, loggerId, channel, stretch.fromMs, stretch.toMs);
  const parts = [
    sources,
    await digest(stretch.loggerId, 'pressure'),
    await digest(sources.flowLogger, 'flow'),
    await digest(sources.pumpLogger, 'pump'),
    await digest(sources.inletLogger, 'pressure'),
  ];
  return createHash('sha256').update(JSON.stringify(parts)).digest('hex');
}

/** What a site without any logger's record answers. */
export function nothingRecorded(siteId: string): Problem {
  return new Problem(
    'nothing_recorded',
    `No logger has ever recorded at the site "${siteId}" in that span`,
    'Add a logger to the site, or ask for another span',
  );
}

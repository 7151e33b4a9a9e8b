import type { Channel } from '../model/channel.ts';
import type { Calibration, ChannelSetting, Logger, Placement } from '../model/logger.ts';
import type { LatestSample, SentRun, SummarySeries } from '../model/series.ts';
import type { Site } from '../model/site.ts';
import type { EpochMs } from '../model/units.ts';

/*
 * What a store promises. SQLite stands behind it today; a second engine must pass the same conformance suite
 * (tests/collector/store/conformance.ts). Every method returns a promise although SQLite answers at once, so that an
 * engine behind a network needs no other signature.
 */

/** Samples of one channel as one message (or one slice of a file) brought them. Times are resolved, order is free. */
export interface Piece {
  readonly loggerId: string;
  readonly channel: Channel;
  /** Unit as sent. */
  readonly unit: string;
  readonly arrivedMs: EpochMs;
  readonly timeMs: Float64Array;
  /** As sent, at most nine significant digits. */
  readonly value: Float64Array;
  /** Bits of SAMPLE_FLAG; undefined where all are nought. */
  readonly flags?: Uint8Array | undefined;
}

/** What became of a piece. `stored + duplicate + conflict` (and `erased`) equals the number of its samples. */
export interface PieceOutcome {
  readonly stored: number;
  /** The same time and value was there already (or twice in the piece). */
  readonly duplicate: number;
  /** The same time was there with another value: the first stays. */
  readonly conflict: number;
  /**
   * Samples of an hour whose samples were erased by age: they can't be told from those that were there, and a few of
   * them must not take the place of the minutes kept, so they are left out. Missing: none.
   */
  readonly erased?: number;
}

export interface SampleWriter {
  /**
   * Stores all pieces in one transaction and resolves, in their order, only when it is durable (power cut included,
   * as far as the disk keeps its word). Rejects with a Problem `store_unavailable`, `store_full` or `store_read_only`
   * and then nothing of the batch is stored. Samples are unique by (logger, channel, time).
   */
  store(pieces: readonly Piece[]): Promise<PieceOutcome[]>;
}

export type SummaryLevel = 'minute' | 'hour';

export interface Extent {
  readonly firstMs: EpochMs;
  readonly lastMs: EpochMs;
  readonly count: number;
}

/** Whole UTC hours whose samples were erased by age; their minutes are kept. */
export interface ErasedSpan {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  /** Samples that were there. */
  readonly count: number;
}

/** What a logger's sealed hours and minutes take in the file. Its still open hours are not in it. */
export interface LoggerWeight {
  readonly bytes: number;
  /** Mean over the last whole days (a week at most); undefined before the first whole day with samples. */
  readonly bytesPerDay: number | undefined;
}

export interface SampleReader {
  /**
   * Samples with fromMs <= time < toMs, ascending, unique, in runs of one unit, an hour or so at a time, so that a year
   * streams in bounded memory. One consistent view per yielded hour; what arrives meanwhile may or may not be included.
   */
  runs(loggerId: string, channel: Channel, fromMs: EpochMs, toMs: EpochMs): AsyncIterable<SentRun>;
  /**
   * Min, max, mean, count per UTC-aligned bucket, as sent, of buckets that have samples and touch the span. One entry
   * per unit that occurs. The newest, still open hour is included.
   */
  summaries(
    loggerId: string,
    channel: Channel,
    fromMs: EpochMs,
    toMs: EpochMs,
    level: SummaryLevel,
  ): Promise<{ unit: string; summary: SummarySeries }[]>;
  /** Hours that touch the span and whose samples were erased by age, ascending. */
  erasedSpans(loggerId: string, channel: Channel, fromMs: EpochMs, toMs: EpochMs): Promise<ErasedSpan[]>;
  /** First and last time and the count, erased ones included, or undefined where nothing was ever stored. */
  extent(loggerId: string, channel: Channel): Promise<Extent | undefined>;
  /** The newest sample (by its own time) of each channel of each logger asked for. */
  latest(loggerIds: readonly string[]): Promise<LatestSample[]>;
  /**
   * A digest that changes whenever a sample in the span is added or erased; equal data, equal digest, however it was packed or
   * sealed. It covers the whole UTC hours that the span touches. Cheap: no payload is decoded.
   */
  spanDigest(loggerId: string, channel: Channel, fromMs: EpochMs, toMs: EpochMs): Promise<string>;
}

export interface Refusal {
  /** Undefined where the topic names no logger that is known. */
  readonly loggerId: string | undefined;
  readonly topic: string;
  readonly atMs: EpochMs;
  readonly reason: string;
  /** The first 200 bytes as text, control characters escaped. */
  readonly excerpt: string;
  /** How many refusals this one is counted as, where a message brought more than are ever kept; 1 where missing. */
  readonly countedAs?: number | undefined;
}

export interface RefusalLog {
  /** Counts the refusals and keeps the last 100 per known logger, 100 in one list for unknown ones. */
  addRefusals(refusals: readonly Refusal[]): Promise<void>;
  refusals(loggerId: string | undefined): Promise<Refusal[]>;
  refusalCount(loggerId: string | undefined): Promise<number>;
}

/** Settings. Dated entries are only ever added; `at` picks the one in force. Each method is one transaction. */
export interface Settings {
  sites(options?: { includeHidden?: boolean }): Promise<Site[]>;
  site(id: string): Promise<Site | undefined>;
  /** Adds or replaces by id. */
  putSite(site: Site): Promise<void>;
  /** Erases the site, its placements, and every sample that its loggers recorded while placed there. */
  eraseSite(id: string): Promise<void>;

  loggers(options?: { includeHidden?: boolean }): Promise<Logger[]>;
  logger(id: string): Promise<Logger | undefined>;
  putLogger(logger: Logger): Promise<void>;
  /** Erases the logger and its samples. */
  eraseLogger(id: string): Promise<void>;

  placements(loggerId: string): Promise<Placement[]>;
  /** All placements that were ever at a site, ascending by time. */
  placementsAt(siteId: string): Promise<Placement[]>;
  addPlacement(placement: Placement): Promise<void>;

  channelSettings(loggerId: string): Promise<ChannelSetting[]>;
  /** Adds; an entry with the same logger, channel and fromMs is replaced. */
  addChannelSetting(setting: ChannelSetting): Promise<void>;

  calibrations(loggerId: string): Promise<Calibration[]>;
  addCalibration(calibration: Calibration): Promise<void>;

  /** Counters that outlive a restart: duplicates, conflicts, refusals per logger; small free-form state by name. */
  state(name: string): Promise<string | undefined>;
  putState(name: string, value: string): Promise<void>;
}

/** What may be kept as state for one logger, besides its settings. It is erased with the logger. */
export const LOGGER_STATES = ['clock'] as const;

/** The name of a logger's own state. */
export function loggerState(loggerId: string, what: (typeof LOGGER_STATES)[number]): string {
  return `logger/${loggerId}/${what}`;
}

export interface StoreHealth {
  /** `ok`, or what keeps samples from being taken, in words. */
  readonly state: 'ok' | 'failing';
  readonly message: string | undefined;
  /** Closed hours that wait to become blocks. */
  readonly sealing: number;
  readonly bytes: number;
  /** Bytes that the disk still has for this program; undefined where it doesn't say. */
  readonly freeBytes: number | undefined;
  /** What all loggers together add a day; undefined before the first whole day. */
  readonly bytesPerDay: number | undefined;
}

export interface Store extends SampleWriter, SampleReader, RefusalLog, Settings {
  /**
   * Turns closed hours into blocks for at most about `budgetMs`, transactionally; safe to call at any time. Returns how
   * many hours still wait. An hour is closed when `nowMs` is past its end and a grace.
   */
  seal(nowMs: EpochMs, budgetMs: number): Promise<number>;
  /**
   * Erases sealed hours that are older than the site they were recorded at keeps samples (`keepRawDays`), for at most
   * about `budgetMs`; their minutes stay. An hour that two sites share goes by the one that keeps it longer. Resolves to
   * false once nothing is due any more.
   */
  eraseAged(nowMs: EpochMs, budgetMs: number): Promise<boolean>;
  /** What each logger takes in the file. */
  weights(): Promise<ReadonlyMap<string, LoggerWeight>>;
  health(): Promise<StoreHealth>;
  /** Another number after every write: what was read before it may be stale, what was read since is not. */
  revision(): number;
  close(): Promise<void>;
}

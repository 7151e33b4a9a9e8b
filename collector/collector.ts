import { acceptEntries, acceptMessage, acceptPlainBatch, type IncomingMessage } from './ingest/accept-message.ts';
import { createBurstDoorstep } from './ingest/burst-doorstep.ts';
import { escapeControls, excerpt, shownTopic } from './ingest/excerpt.ts';
import { type CommitFault, type CommitHealth, createGroupCommit } from './ingest/group-commit.ts';
import { createCounterBook } from './ingest/intake-counters.ts';
import { createLoggerBook, type LoggerPage } from './ingest/logger-book.ts';
import { createMappingBook, type MappedLogger, type MappingBook } from './ingest/mapping-book.ts';
import type { RefusedEntry } from './ingest/payload-entry.ts';
import { createPresenceBook } from './ingest/presence-book.ts';
import { splitAtHours } from './ingest/split-hours.ts';
import { createTopicReader, type ReadTopic, STATUS_WORDS, type StatusWord } from './ingest/topic.ts';
import type { Channel } from './model/channel.ts';
import type { Clock } from './model/clock.ts';
import type { EpochMs } from './model/units.ts';
import type { IntakeCounters, Log, LoggerPresence, StoredNotice } from './ports.ts';
import type { Piece, PieceOutcome, Refusal, Store } from './store/port.ts';

/** What the collector needs of a store. */
export type CollectorStore = Pick<
  Store,
  'store' | 'addRefusals' | 'logger' | 'channelSettings' | 'latest' | 'state' | 'putState'
>;

export interface Counters {
  readonly total: IntakeCounters;
  /** Messages that name no known logger. */
  readonly unknown: IntakeCounters;
  readonly loggers: ReadonlyMap<string, IntakeCounters>;
}

export interface Collector {
  /**
   * Takes one message. Resolves once its samples are committed and its refusals recorded: only then may it be
   * acknowledged. Rejects with the store's Problem when they could not be; then it must not be.
   */
  accept(message: IncomingMessage): Promise<void>;
  /** The same for those who take very many: calls back instead of resolving or rejecting. */
  take(message: IncomingMessage, taken: (fault: CommitFault | undefined) => void): void;
  /** The same way in for a file: pieces of any span, committed in the same transactions; one outcome a piece. */
  storePieces(pieces: readonly Piece[]): Promise<PieceOutcome[]>;
  /** Records what a broker refused before it became a message. Resolves once recorded. */
  recordRefusal(refusal: Omit<Refusal, 'excerpt'> & { readonly payload: Uint8Array }): Promise<void>;
  /** A logger's own connection opened or closed (embedded broker). */
  connectionOpened(loggerId: string): void;
  connectionClosed(loggerId: string): void;
  /** Our connection to an outside broker is back: what comes now may have waited there. */
  deliveryResumed(): void;
  /** Told after each commit, once a piece of which anything was stored. A failing listener changes nothing here. */
  onStored(listener: (notice: StoredNotice) => void): () => void;
  onPresence(listener: (presence: LoggerPresence) => void): () => void;
  presence(loggerId: string): LoggerPresence;
  counters(): Counters;
  /** Whether the last commit went through, and what keeps samples from being taken. */
  health(): CommitHealth;
  /** The logger to whose own filter a topic belongs. */
  mappedTo(topic: string): string | undefined;
  /** The filter under which a logger may publish besides our topics. */
  filterOf(loggerId: string): string | undefined;
  /** The logger or its settings have changed: they are read again at its next message. */
  forget(loggerId: string): void;
  nowMs(): EpochMs;
  /** Waits for what is under way and saves the counters. Stop the brokers first. */
  stop(): Promise<void>;
}

/** Counters are saved this often; a crash forgets at most so much counting, and no sample. */
const SAVE_COUNTERS_EVERY_MS = 60_000;
/** Of a listener that keeps failing, every so many failures make a log line. */
const LISTENER_FAULTS_A_LINE = 1000;

/**
 * Refused entries of one message that are told one by one; those before are only counted. No more are ever kept, and a
 * batch of nothing but bad entries would otherwise hold memory and the store for long.
 */
const REFUSALS_OF_A_MESSAGE = 100;
/** Where a trial of a store that failed leaves its trace. */
const TRIAL_STATE = 'intake-trial';

const OUTCOMES = ['stored', 'duplicate', 'conflict', 'erased'] as const;

/** message → accept → commit → acknowledge → tell. The one way in for samples, whoever brings them. */
export function createCollector(needs: {
  store: CollectorStore;
  clock: Clock;
  log: Log;
  /** Loggers that publish under topics of their own; missing: there are none. */
  mappings?: MappingBook | undefined;
}): Collector {
  const { store, clock, log, mappings = createMappingBook() } = needs;
  const startedMs = clock.nowMs();
  const counters = createCounterBook();
  const book = createLoggerBook(store);
  const readTopic = createTopicReader();
  const doorstep = createBurstDoorstep();
  const listeners = new Set<(notice: StoredNotice) => void>();
  let listenerFaults = 0;
  const presences = createPresenceBook(listenerFailed);
  const commits = createGroupCommit(
    store,
    (health) => {
      if (health.state === 'ok') log.info({}, 'samples are stored again');
      else log.error({ reason: health.message }, 'samples cannot be stored; nothing is acknowledged until they can');
    },
    () => store.putState(TRIAL_STATE, String(clock.nowMs())),
  );
  /** By logger: the newest commit with readings that had no time of their own, see `redelivered`. */
  const timelessCommits = new Map<string, Promise<unknown>>();
  const restored = counters.restore(store).catch((error: unknown) => log.warn({ err: error }, 'counters start anew'));
  const stopSaving = clock.every(SAVE_COUNTERS_EVERY_MS, () => void saveCounters());

  function accept(message: IncomingMessage): Promise<void> {
    return new Promise((resolve, reject) => take(message, (fault) => (fault ? reject(fault.error) : resolve())));
  }

  function take(message: IncomingMessage, taken: (fault: CommitFault | undefined) => void): void {
    const topic = readTopic(message.topic);
    const found = topic.loggerId === undefined ? undefined : book.find(topic.loggerId, clock.nowMs());
    // Known loggers are taken at once, so that readings keep their order.
    if (found !== undefined && !(found instanceof Promise) && topic.kind === 'channel' && !message.retainedDelivery) {
      const pieces = acceptPlainBatch(message, {
        loggerId: found.loggerId,
        channel: topic.channel,
        settings: found.settings,
      });
      if (pieces !== undefined) {
        count(found.loggerId, 'messages', 1);
        commits.add(pieces, [], (fault, outcomes, first) => {
          if (fault === undefined) tellOutcomes(pieces, outcomes, first);
          taken(fault);
        });
        return;
      }
    }
    acceptOther(message, topic, found).then(
      () => taken(undefined),
      (error: unknown) => taken({ error }),
    );
  }

  function acceptOther(message: IncomingMessage, topic: ReadTopic, found: ReturnType<typeof book.find>): Promise<void> {
    const mapped = topic.kind === 'refused' ? mappings.find(message.topic) : undefined;
    if (mapped) return acceptMapped(message, mapped);
    if (found instanceof Promise) return found.then((page) => acceptOf(message, topic, page));
    return acceptOf(message, topic, found);
  }

  async function acceptOf(message: IncomingMessage, topic: ReadTopic, page: LoggerPage | undefined): Promise<void> {
    // What a broker had kept is no sample, and as a status it is of use only where the logger is known.
    if (message.retainedDelivery && (topic.kind !== 'status' || page === undefined)) return;
    count(page?.loggerId, 'messages', 1);
    if (topic.kind === 'refused') return refuseMessage(message, page, topic.reason);
    if (page === undefined) {
      return refuseMessage(message, undefined, `no logger is called ${topic.loggerId}; add it, or correct the topic`);
    }
    if (topic.kind === 'status') return acceptStatus(message, page);
    await acceptSamples(message, page, topic);
  }

  /** A message under a device's own filter. */
  async function acceptMapped(message: IncomingMessage, mapped: MappedLogger): Promise<void> {
    if (message.retainedDelivery) return;
    const found = book.find(mapped.loggerId, clock.nowMs());
    const page = found instanceof Promise ? await found : found;
    count(page?.loggerId, 'messages', 1);
    if (page === undefined) return refuseMessage(message, undefined, `no logger is called ${mapped.loggerId}`);
    await acceptSamples(message, page, mapped);
  }

  async function acceptStatus(message: IncomingMessage, page: LoggerPage): Promise<void> {
    const said = new TextDecoder().decode(message.payload.subarray(0, 16)).trim();
    if (!(STATUS_WORDS as readonly string[]).includes(said)) {
      return refuseMessage(message, page, `a status is ${STATUS_WORDS.join(' or ')}, not ${excerpt(message.payload)}`);
    }
    // Behind an outside broker the status is all we see of a reconnection.
    if (said === 'online' && presences.connections(page.loggerId) === 0) page.openWatch(message.arrivedMs);
    presences.said(page.loggerId, said as StatusWord, message.arrivedMs);
  }

  function acceptSamples(
    message: IncomingMessage,
    page: LoggerPage,
    source: (ReadTopic & { kind: 'channel' }) | MappedLogger,
  ): Promise<unknown> {
    const { loggerId } = page;
    const context = { loggerId, settings: page.settings, memory: (name: Channel) => page.memory(name) };
    const read =
      'filter' in source
        ? acceptEntries(source.read(message.payload, message.arrivedMs), message, context)
        : acceptMessage(message, { ...context, channel: source.channel });
    const refusals = read.refused.length === 0 ? [] : toRefusals(message, loggerId, read.refused);
    const key = 'filter' in source ? source.filter : `${loggerId}/${source.channel}`;
    if (read.pace === 'burst') doorstep.burst(key);
    const waits = read.pace === 'first after reconnection' && !message.duplicate;
    // The first copy of a redelivered reading may still be on its way to the disk, and may yet fail.
    const firstCopy = read.redelivered > 0 ? timelessCommits.get(loggerId) : undefined;
    const committed = waits
      ? doorstep.hold(key, read.pieces).then((pieces) => commit(pieces, refusals))
      : commit(read.pieces, refusals);
    if (read.pace !== undefined && read.pieces.length > 0) rememberTimeless(page, committed, read.pieces);
    if (read.redelivered === 0) return committed;
    return Promise.all([committed, firstCopy]).then(() => count(loggerId, 'duplicate', read.redelivered));
  }

  /** A commit that fails must not make the copy that is sent again look like one that is stored. */
  function rememberTimeless(page: LoggerPage, committed: Promise<unknown>, pieces: readonly Piece[]): void {
    timelessCommits.set(page.loggerId, committed);
    const settled = (): void => {
      if (timelessCommits.get(page.loggerId) === committed) timelessCommits.delete(page.loggerId);
    };
    committed.then(settled, () => {
      settled();
      for (const piece of pieces) page.memory(piece.channel).lastTimelessValue = undefined;
    });
  }

  function commit(pieces: readonly Piece[], refusals: readonly Refusal[]): Promise<PieceOutcome[]> {
    return new Promise((resolve, reject) => {
      commits.add(pieces, refusals, (fault, outcomes, first) => {
        if (fault) return reject(fault.error);
        tellOutcomes(pieces, outcomes, first);
        for (const refusal of refusals) count(refusal.loggerId, 'refused', refusal.countedAs ?? 1);
        resolve(outcomes.slice(first, first + pieces.length));
      });
    });
  }

  function tellOutcomes(pieces: readonly Piece[], outcomes: readonly PieceOutcome[], first: number): void {
    for (let i = 0; i < pieces.length; i++) {
      const piece = pieces[i]!;
      const outcome = outcomes[first + i]!;
      for (const name of OUTCOMES) {
        const number = outcome[name] ?? 0;
        if (number > 0) count(piece.loggerId, name, number);
      }
      if (outcome.stored > 0) tellStored(piece);
    }
  }

  async function refuseMessage(message: IncomingMessage, page: LoggerPage | undefined, reason: string): Promise<void> {
    await commit([], toRefusals(message, page?.loggerId, [{ index: undefined, reason }]));
  }

  function tellStored(piece: Piece): void {
    if (listeners.size === 0) return;
    const { loggerId, channel, unit, arrivedMs, timeMs, value, flags } = piece;
    for (const listener of listeners) {
      try {
        listener({ loggerId, channel, unit, arrivedMs, timeMs, value, flags });
      } catch (error) {
        listenerFailed(error);
      }
    }
  }

  function listenerFailed(error: unknown): void {
    if (listenerFaults++ % LISTENER_FAULTS_A_LINE === 0) log.error({ err: error }, 'a follower of new samples failed');
  }

  function count(loggerId: string | undefined, name: Exclude<keyof IntakeCounters, 'waiting'>, by: number): void {
    counters.total[name] += by;
    counters.of(loggerId)[name] += by;
  }

  async function saveCounters(): Promise<void> {
    try {
      await restored;
      await counters.save(store);
    } catch (error) {
      log.warn({ err: error }, 'the counters could not be saved');
    }
  }

  return {
    accept,
    take,
    async storePieces(pieces) {
      const parts = pieces.map(splitAtHours);
      const outcomes = await commit(parts.flat(), []);
      let at = 0;
      return parts.map((own) => {
        const sum = { stored: 0, duplicate: 0, conflict: 0, erased: 0 };
        for (const outcome of outcomes.slice(at, at + own.length)) {
          sum.stored += outcome.stored;
          sum.duplicate += outcome.duplicate;
          sum.conflict += outcome.conflict;
          sum.erased += outcome.erased ?? 0;
        }
        at += own.length;
        const { erased, ...others } = sum;
        return erased === 0 ? others : sum;
      });
    },
    async recordRefusal({ payload, ...refusal }) {
      count(refusal.loggerId, 'messages', 1);
      await commit([], [{ ...refusal, topic: shownTopic(refusal.topic), excerpt: excerpt(payload) }]);
    },
    connectionOpened(loggerId) {
      const atMs = clock.nowMs();
      presences.connectionOpened(loggerId, atMs);
      const found = book.find(loggerId, atMs);
      if (found instanceof Promise) {
        found.then(
          (page) => page?.openWatch(atMs),
          () => undefined,
        );
      } else found?.openWatch(atMs);
    },
    connectionClosed: (loggerId) => presences.connectionClosed(loggerId, clock.nowMs()),
    deliveryResumed: () => book.openWatches(clock.nowMs()),
    onStored(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    onPresence: (listener) => presences.onChange(listener),
    presence: (loggerId) => presences.presence(loggerId) ?? { loggerId, state: 'unknown', sinceMs: startedMs },
    counters() {
      counters.total.waiting = commits.waiting();
      return { total: counters.total, unknown: counters.unknown, loggers: counters.loggers() };
    },
    health: () => commits.health(),
    mappedTo: (topic) => mappings.find(topic)?.loggerId,
    filterOf: (loggerId) => mappings.filterOf(loggerId),
    forget: (loggerId) => book.forget(loggerId),
    nowMs: () => clock.nowMs(),
    async stop() {
      stopSaving();
      doorstep.release();
      await commits.idle();
      await saveCounters();
    },
  };
}

function toRefusals(
  message: IncomingMessage,
  loggerId: string | undefined,
  refused: readonly RefusedEntry[],
): Refusal[] {
  const topic = shownTopic(message.topic);
  const shown = excerpt(message.payload);
  const left = Math.max(0, refused.length - REFUSALS_OF_A_MESSAGE);
  return refused.slice(left).map(({ index, reason }, at) => ({
    loggerId,
    topic,
    atMs: message.arrivedMs,
    reason: escapeControls(index === undefined ? reason : `entry ${index}: ${reason}`),
    excerpt: shown,
    ...(left > 0 && at === 0 ? { countedAs: left + 1 } : {}),
  }));
}

import { Problem } from '../model/problem.ts';
import type { Piece, PieceOutcome, Refusal, RefusalLog, SampleWriter } from '../store/port.ts';

/*
 * One transaction for what has come since the last: a commit costs a disk's flush whether it holds one message or a
 * thousand. A batch isn't kept waiting for more to come, except briefly after a small one: a broker that lets only
 * twenty messages be unacknowledged would otherwise stand still for each wait.
 */

/**
 * Messages of one transaction. Not all that senders may have under way at once, so that the next are read while this one
 * goes to the disk: measured with both brokers, half as many and twice as many were slower.
 */
const MAX_BATCH_MESSAGES = 1000;
/** Samples of one transaction, so that a hundred full batches at once don't make one long lock. */
const MAX_BATCH_SAMPLES = 100_000;
/** Fewer messages than this are a trickle (many loggers, one reading each): worth a short wait for company. */
const TRICKLE_MESSAGES = 8;
const TRICKLE_WAIT_MS = 4;
/** After a failed commit, so that a full disk isn't hammered. */
const WAIT_AFTER_FAILURE_MS = 100;
/** Between trials of a store that failed while nobody sends. */
const TRY_AGAIN_AFTER_MS = 1000;

export interface CommitHealth {
  readonly state: 'ok' | 'failing';
  readonly message: string | undefined;
}

export interface GroupCommit {
  /**
   * Commits everything given in one transaction and then calls `settle`; with a fault, nothing of it was stored.
   * Callers are called in the order in which they came, and must not throw.
   */
  add(pieces: readonly Piece[], refusals: readonly Refusal[], settle: Settle): void;
  /** Messages accepted but not yet committed. */
  waiting(): number;
  health(): CommitHealth;
  /** Resolves when nothing waits any more. */
  idle(): Promise<void>;
}

/**
 * `outcomes[first]` is the first piece's outcome, the others follow it. With a fault there are none.
 * A callback instead of a promise: at a hundred thousand messages a second the promises would be a third of the work.
 */
export type Settle = (fault: CommitFault | undefined, outcomes: readonly PieceOutcome[], first: number) => void;

export interface CommitFault {
  /** The store's Problem. */
  readonly error: unknown;
}

interface Job {
  readonly pieces: readonly Piece[];
  readonly refusals: readonly Refusal[];
  readonly samples: number;
  readonly settle: Settle;
}

const NO_OUTCOMES: readonly PieceOutcome[] = [];

/**
 * Joins what is added into transactions, one at a time and in order. `onHealth` is told of each change. `tryStore`
 * writes something small: after a failure with nothing left to commit, only that tells when the store is well again.
 */
export function createGroupCommit(
  store: SampleWriter & Pick<RefusalLog, 'addRefusals'>,
  onHealth: (health: CommitHealth) => void,
  tryStore?: () => Promise<unknown>,
): GroupCommit {
  const queue: Job[] = [];
  let inHand = 0;
  let running = false;
  let lastEndMs = Number.NEGATIVE_INFINITY;
  let health: CommitHealth = { state: 'ok', message: undefined };
  let idleWaiters: (() => void)[] = [];
  let trial: NodeJS.Timeout | undefined;

  async function run(): Promise<void> {
    while (queue.length > 0) {
      if (health.state === 'failing') await wait(WAIT_AFTER_FAILURE_MS);
      else if (queue.length < TRICKLE_MESSAGES && performance.now() - lastEndMs < TRICKLE_WAIT_MS) {
        await wait(TRICKLE_WAIT_MS);
      }
      const batch = takeBatch(queue);
      inHand = batch.length;
      await commit(batch);
      inHand = 0;
      lastEndMs = performance.now();
    }
    running = false;
    for (const done of idleWaiters) done();
    idleWaiters = [];
  }

  async function commit(batch: readonly Job[]): Promise<void> {
    let outcomes: PieceOutcome[];
    try {
      const pieces: Piece[] = [];
      for (const job of batch) for (const piece of job.pieces) pieces.push(piece);
      outcomes = pieces.length > 0 ? await store.store(pieces) : [];
    } catch (error) {
      // A fault of the store keeps everybody out; any other, and a damaged place in it, may concern one message only,
      // which mustn't block the rest.
      if ((!isStoreFault(error) || isDamage(error)) && batch.length > 1) {
        for (const job of batch) await commit([job]);
        return;
      }
      fail(batch, error);
      return;
    }
    const refusing = batch.filter((job) => job.refusals.length > 0);
    let refusalFault: CommitFault | undefined;
    try {
      if (refusing.length > 0) await store.addRefusals(refusing.flatMap((job) => job.refusals));
    } catch (error) {
      refusalFault = { error };
    }
    if (refusalFault) tell({ state: 'failing', message: messageOf(refusalFault.error) });
    else tell({ state: 'ok', message: undefined });
    let at = 0;
    for (const job of batch) {
      if (refusalFault && job.refusals.length > 0) job.settle(refusalFault, NO_OUTCOMES, 0);
      else job.settle(undefined, outcomes, at);
      at += job.pieces.length;
    }
  }

  function fail(batch: readonly Job[], error: unknown): void {
    tell({ state: 'failing', message: messageOf(error) });
    for (const job of batch) job.settle({ error }, NO_OUTCOMES, 0);
  }

  function tryLater(): void {
    if (!tryStore || trial !== undefined) return;
    trial = setTimeout(() => {
      trial = undefined;
      if (health.state === 'ok') return;
      if (running) return tryLater();
      tryStore().then(
        () => tell({ state: 'ok', message: undefined }),
        (error: unknown) => tell({ state: 'failing', message: messageOf(error) }),
      );
    }, TRY_AGAIN_AFTER_MS);
    trial.unref();
  }

  function tell(next: CommitHealth): void {
    const changed = next.state !== health.state || next.message !== health.message;
    health = next;
    if (changed) onHealth(next);
    if (next.state === 'failing') tryLater();
  }

  return {
    add(pieces, refusals, settle) {
      if (pieces.length === 0 && refusals.length === 0) return settle(undefined, NO_OUTCOMES, 0);
      let samples = 0;
      for (const piece of pieces) samples += piece.timeMs.length;
      // A refusal is written like a sample, so that it counts as one here.
      samples += refusals.length;
      queue.push({ pieces, refusals, samples, settle });
      if (running) return;
      running = true;
      setImmediate(() => void run());
    },
    waiting: () => queue.length + inHand,
    health: () => health,
    idle: () => (running ? new Promise((resolve) => idleWaiters.push(resolve)) : Promise.resolve()),
  };
}

function takeBatch(queue: Job[]): Job[] {
  let samples = 0;
  let count = 0;
  while (count < queue.length && count < MAX_BATCH_MESSAGES) {
    samples += queue[count]!.samples;
    if (count > 0 && samples > MAX_BATCH_SAMPLES) break;
    count += 1;
  }
  return queue.splice(0, count);
}

function isStoreFault(error: unknown): boolean {
  return error instanceof Problem && error.code.startsWith('store_');
}

function isDamage(error: unknown): boolean {
  return error instanceof Problem && error.code === 'store_corrupt';
}

/** What is wrong and what to do about it: this stands in health and on the page. */
function messageOf(error: unknown): string {
  if (error instanceof Problem) return `${error.message} ${error.hint}`;
  return error instanceof Error ? error.message : String(error);
}

function wait(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}

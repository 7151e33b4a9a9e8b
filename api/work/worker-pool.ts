import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import { Problem } from '../../collector/model/problem.ts';
import type { Log } from '../../collector/ports.ts';
import { createJobRunner, type Job, transferables } from './jobs.ts';
import type { WorkerAnswer } from './worker-main.ts';

/** Jobs that may wait; beyond it the caller is told to come back. */
const WAITING_LIMIT = 64;
/** A job that takes longer is given up: no span that is allowed needs a tenth of it. */
const JOB_LIMIT_MS = 10 * 60_000;
/** A worker without work is let go after this long, with the memory it holds. */
const IDLE_LIMIT_MS = 60_000;

export interface WorkerPool {
  /**
   * Runs a job beside the main thread. It is made when its turn comes, so that columns of jobs that wait take no memory.
   * Throws Problem `busy`, `computation_failed`, or what making or doing the job throws.
   */
  run(make: () => Promise<Job>): Promise<Uint8Array>;
  waiting(): number;
  stop(): Promise<void>;
}

interface Ticket {
  readonly make: () => Promise<Job>;
  readonly resolve: (bytes: Uint8Array) => void;
  readonly reject: (reason: unknown) => void;
}

/**
 * Workers run compiled code only; from TypeScript sources (tests) jobs run in place.
 * @param most workers; with one, a job finds what the one before it kept
 */
export function createWorkerPool(
  log: Log,
  most: number = Math.max(1, Math.min(4, availableParallelism() - 1)),
): WorkerPool {
  return import.meta.url.endsWith('.ts') ? createInPlacePool() : createThreadPool(log, most);
}

function createInPlacePool(): WorkerPool {
  let last: Promise<unknown> = Promise.resolve();
  const runJob = createJobRunner();
  return {
    run(make) {
      const run = last.then(make).then(runJob);
      last = run.catch(() => undefined);
      return run;
    },
    waiting: () => 0,
    stop: async () => void (await last),
  };
}

function createThreadPool(log: Log, size: number): WorkerPool {
  const queue: Ticket[] = [];
  const workers = new Set<Worker>();
  const idle: { worker: Worker; timer: NodeJS.Timeout }[] = [];
  let stopped = false;

  function next(): void {
    if (stopped || queue.length === 0) return;
    const rested = idle.pop();
    if (!rested && workers.size >= size) return;
    if (rested) clearTimeout(rested.timer);
    const worker = rested?.worker ?? start();
    work(worker, queue.shift()!);
  }

  function start(): Worker {
    const worker = new Worker(new URL('./worker-main.js', import.meta.url));
    workers.add(worker);
    worker.once('exit', () => workers.delete(worker));
    return worker;
  }

  function work(worker: Worker, ticket: Ticket): void {
    const limit = setTimeout(
      () => end(() => ticket.reject(failed('It took more than ten minutes')), true),
      JOB_LIMIT_MS,
    );
    const onMessage = (answer: WorkerAnswer) =>
      end(() => {
        if (answer.kind === 'done') return ticket.resolve(answer.bytes);
        if (answer.kind === 'problem') return ticket.reject(new Problem(answer.code, answer.message, answer.hint));
        log.error({ trace: answer.trace }, 'a computation ended in a fault');
        ticket.reject(failed('It ended in a fault'));
      }, false);
    const onError = (error: Error) =>
      end(() => {
        log.error({ err: error }, 'a worker broke down');
        ticket.reject(failed('Its worker broke down'));
      }, true);
    const onExit = () => end(() => ticket.reject(failed('Its worker ended')), true);
    let ended = false;
    function end(tell: () => void, broken: boolean): void {
      if (ended) return;
      ended = true;
      clearTimeout(limit);
      worker.off('message', onMessage).off('error', onError).off('exit', onExit);
      // A worker that is ended must not take the program with it by a late error.
      worker.on('error', () => undefined);
      tell();
      if (broken) {
        workers.delete(worker);
        void worker.terminate();
      } else {
        const timer = setTimeout(() => {
          idle.splice(
            idle.findIndex((entry) => entry.worker === worker),
            1,
          );
          void worker.terminate();
        }, IDLE_LIMIT_MS);
        timer.unref();
        idle.push({ worker, timer });
      }
      next();
    }
    worker.removeAllListeners('error');
    worker.on('message', onMessage).on('error', onError).on('exit', onExit);
    ticket
      .make()
      .then((job) => {
        if (!ended) worker.postMessage(job, transferables(job));
      })
      .catch((error: unknown) => end(() => ticket.reject(error), false));
  }

  return {
    run: (make) =>
      new Promise((resolve, reject) => {
        if (stopped || queue.length >= WAITING_LIMIT)
          return reject(
            new Problem(
              'busy',
              `${queue.length} computations wait already`,
              'Ask again in a minute, or for a shorter span',
            ),
          );
        queue.push({ make, resolve, reject });
        next();
      }),
    waiting: () => queue.length,
    async stop() {
      stopped = true;
      for (const ticket of queue.splice(0))
        ticket.reject(new Problem('busy', 'The program is stopping', 'Ask again once it runs'));
      for (const entry of idle.splice(0)) clearTimeout(entry.timer);
      await Promise.all([...workers].map((worker) => worker.terminate()));
    },
  };
}

function failed(what: string): Problem {
  return new Problem(
    'computation_failed',
    `The computation gave no result. ${what}`,
    "The program's log tells the cause",
  );
}

import { statSync } from 'node:fs';
import { join } from 'node:path';
import { setImmediate as nextTurn } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';
import { Problem } from '../../model/problem.ts';
import type { RecordCheck, RecordUpkeep, UpkeepProgress } from '../record-check.ts';
import { checkRecord } from './check-record.ts';
import { copyRecord } from './copy-record.ts';
import { openDatabase, translating } from './open-database.ts';
import { STORE_FILE } from './open-store.ts';

/** Progress is told at most this often. */
const TELL_EVERY_MS = 100;

/** What a worker is asked to do with the store at `path`. */
export type UpkeepTask =
  | { readonly kind: 'check'; readonly path: string }
  | { readonly kind: 'copy'; readonly path: string; readonly target: string };

/** What a worker says. */
export type UpkeepWord =
  | { readonly kind: 'progress'; readonly progress: UpkeepProgress }
  | { readonly kind: 'done'; readonly check: RecordCheck | undefined }
  | { readonly kind: 'problem'; readonly code: string; readonly message: string; readonly hint: string }
  | { readonly kind: 'fault'; readonly trace: string };

/** Long tasks over the store in `folder`, beside whoever writes it: in a thread, with a connection of their own. */
export function createRecordUpkeep(folder: string): RecordUpkeep {
  const path = join(folder, STORE_FILE);
  const running = new Set<() => Promise<unknown>>();
  let stopped = false;

  // Workers run compiled code only; from TypeScript sources (tests) a task runs in place.
  async function run(task: UpkeepTask, onProgress: (progress: UpkeepProgress) => void) {
    if (stopped) throw givenUp();
    const seldom = seldomTold(onProgress);
    if (import.meta.url.endsWith('.ts')) return runUpkeepTask(task, seldom, () => !stopped);
    return inThread(task, seldom, running);
  }

  return {
    async check(onProgress) {
      return (await run({ kind: 'check', path }, onProgress))!;
    },
    async copyTo(target, onProgress) {
      await run({ kind: 'copy', path, target }, onProgress);
    },
    copyBytes: () => statSync(path).size + (statSync(`${path}-wal`, { throwIfNoEntry: false })?.size ?? 0),
    async stop() {
      stopped = true;
      await Promise.all([...running].map((end) => end()));
    },
  };
}

/** Does a task; `goOn` is asked in between. */
export async function runUpkeepTask(
  task: UpkeepTask,
  onProgress: (progress: UpkeepProgress) => void,
  goOn: () => boolean = () => true,
): Promise<RecordCheck | undefined> {
  switch (task.kind) {
    case 'copy':
      await copyRecord(task.path, task.target, onProgress, goOn);
      return undefined;
    case 'check': {
      const database = openDatabase(task.path, { readOnly: true });
      try {
        const steps = checkRecord(database);
        for (;;) {
          const step = translating(task.path, () => steps.next());
          if (step.done) return step.value;
          if (!goOn()) throw givenUp();
          onProgress(step.value);
          await nextTurn();
        }
      } finally {
        database.close();
      }
    }
    default:
      return task satisfies never;
  }
}

function inThread(
  task: UpkeepTask,
  onProgress: (progress: UpkeepProgress) => void,
  running: Set<() => Promise<unknown>>,
): Promise<RecordCheck | undefined> {
  const worker = new Worker(new URL('./record-worker.js', import.meta.url), { workerData: task });
  const end = () => worker.terminate();
  running.add(end);
  return new Promise<RecordCheck | undefined>((resolve, reject) => {
    worker.on('message', (word: UpkeepWord) => {
      switch (word.kind) {
        case 'progress':
          return onProgress(word.progress);
        case 'done':
          return resolve(word.check);
        case 'problem':
          return reject(new Problem(word.code, word.message, word.hint));
        case 'fault':
          return reject(new Error(word.trace));
        default:
          word satisfies never;
      }
    });
    worker.once('error', reject);
    worker.once('exit', () => reject(givenUp()));
  }).finally(() => {
    running.delete(end);
    void worker.terminate();
  });
}

/** The first, the last, and one now and then. */
function seldomTold(onProgress: (progress: UpkeepProgress) => void): (progress: UpkeepProgress) => void {
  let lastMs = Number.NEGATIVE_INFINITY;
  return (progress) => {
    const nowMs = performance.now();
    if (nowMs - lastMs < TELL_EVERY_MS && progress.done < progress.total) return;
    lastMs = nowMs;
    onProgress(progress);
  };
}

function givenUp(): Problem {
  return new Problem('interrupted', 'The program was stopped before this was done', 'Start it again');
}

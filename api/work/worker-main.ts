import { parentPort } from 'node:worker_threads';
import { Problem } from '../../collector/model/problem.ts';
import { createJobRunner, type Job } from './jobs.ts';

/** What a worker answers: the bytes, a Problem's parts, or the trace of a fault. */
export type WorkerAnswer =
  | { readonly kind: 'done'; readonly bytes: Uint8Array }
  | { readonly kind: 'problem'; readonly code: string; readonly message: string; readonly hint: string }
  | { readonly kind: 'fault'; readonly trace: string };

const runJob = createJobRunner();

parentPort?.on('message', async (job: Job) => {
  try {
    const made = await runJob(job);
    // A slice of a pooled buffer can't be handed over; a copy of its own can.
    const bytes = made.byteLength === made.buffer.byteLength ? made : made.slice();
    const answer: WorkerAnswer = { kind: 'done', bytes };
    parentPort?.postMessage(answer, [bytes.buffer as ArrayBuffer]);
  } catch (thrown) {
    const answer: WorkerAnswer =
      thrown instanceof Problem
        ? { kind: 'problem', code: thrown.code, message: thrown.message, hint: thrown.hint }
        : { kind: 'fault', trace: thrown instanceof Error ? (thrown.stack ?? thrown.message) : String(thrown) };
    parentPort?.postMessage(answer);
  }
});

import { parentPort, workerData } from 'node:worker_threads';
import { Problem } from '../../model/problem.ts';
import { runUpkeepTask, type UpkeepTask, type UpkeepWord } from './record-upkeep.ts';

const say = (word: UpkeepWord) => parentPort?.postMessage(word);

try {
  const check = await runUpkeepTask(workerData as UpkeepTask, (progress) => say({ kind: 'progress', progress }));
  say({ kind: 'done', check });
} catch (thrown) {
  say(
    thrown instanceof Problem
      ? { kind: 'problem', code: thrown.code, message: thrown.message, hint: thrown.hint }
      : { kind: 'fault', trace: thrown instanceof Error ? (thrown.stack ?? thrown.message) : String(thrown) },
  );
}

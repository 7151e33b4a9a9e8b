import { formatRfc3339 } from '../../collector/model/instant.ts';
import { Problem } from '../../collector/model/problem.ts';
import { createRecordUpkeep } from '../../collector/store/sqlite/record-upkeep.ts';
import type { RecordCheckResponse } from '../contract/payloads.ts';
import { askServerForJson } from './ask-server.ts';
import { type Command, textOf } from './command.ts';
import type { LocalServer } from './import-through-server.ts';
import { percent, progressLines } from './upkeep-progress.ts';
import { dataFolderOf, withDataFolder } from './with-data-folder.ts';

/** How often a server that checks its record is asked how far it is. */
const ASK_EVERY_MS = 300;
const EXIT_DAMAGED = 1;

/** What was found, in the same form whoever looked. */
interface Found {
  readonly hours: number;
  readonly samples: number;
  readonly faultCount: number;
  readonly faults: readonly {
    kind: string;
    logger: string | null;
    channel: string | null;
    hour: string | null;
    seen: string;
  }[];
}

export const checkCommand: Command = {
  name: 'check',
  summary: 'reads the whole record, recomputes every SHA-256 and summary, and lists what differs and at which hours',
  positional: [],
  options: [
    { name: 'data', value: 'folder', description: 'data folder', fallback: './mainsdiary-data', example: '/srv/diary' },
  ],
  examples: ['mainsdiary check --data /srv/diary'],
  async run(_positional, options) {
    const folder = textOf(options, 'data');
    const found = await withDataFolder(folder, (way) =>
      'server' in way ? throughServer(way.server) : onFolder(dataFolderOf(folder)),
    );
    const { hours, samples, faultCount, faults } = found;
    const read = `${hours} sealed hours, ${samples} samples`;
    if (faultCount === 0) {
      process.stdout.write(`The record is whole: ${read}; every SHA-256, minute and count is as it should be.\n`);
      return 0;
    }
    process.stdout.write(`${faultCount === 1 ? '1 fault' : `${faultCount} faults`} in ${read}:\n`);
    for (const { kind, logger, channel, hour, seen } of faults) {
      const place = [logger, channel, hour].filter((part) => part !== null).join(' ') || 'the file';
      process.stdout.write(`${place}: ${kind.replaceAll('_', ' ')}: ${seen}\n`);
    }
    if (faults.length < faultCount) process.stdout.write(`and ${faultCount - faults.length} more\n`);
    process.stdout.write(
      'Keep a copy of the data folder, then put back a backup with mainsdiary restore FILE --replace.\n',
    );
    return EXIT_DAMAGED;
  },
};

const progress = () => progressLines((done, total) => `checked: ${percent(done, total)} of ${total} hours`);

async function throughServer(server: LocalServer): Promise<Found> {
  const tell = progress();
  let answer = await askServerForJson<RecordCheckResponse>(server, 'startRecordCheck');
  while (answer.state === 'running') {
    // How many there are is known only once it has begun.
    if (answer.total > 0) tell(answer.done, answer.total);
    await new Promise((resolve) => setTimeout(resolve, ASK_EVERY_MS));
    answer = await askServerForJson<RecordCheckResponse>(server, 'recordCheck');
  }
  if (answer.state === 'failed')
    throw new Problem(
      'store_unavailable',
      `The record could not be checked: ${answer.failure}`,
      "The server's log tells the cause",
    );
  return answer;
}

async function onFolder(folder: string): Promise<Found> {
  const tell = progress();
  const check = await createRecordUpkeep(folder).check(({ done, total }) => tell(done, total));
  const faults = check.faults.map(({ kind, loggerId, channel, hourMs, seen }) => ({
    kind,
    logger: loggerId ?? null,
    channel: channel ?? null,
    hour: hourMs === undefined ? null : formatRfc3339(hourMs),
    seen,
  }));
  return { ...check, faults };
}

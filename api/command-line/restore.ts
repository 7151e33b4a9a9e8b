import { resolve } from 'node:path';
import { formatRfc3339 } from '../../collector/model/instant.ts';
import { holdDataFolder } from '../../collector/store/data-folder.ts';
import { restoreRecord } from '../../collector/store/sqlite/restore-record.ts';
import { type Command, textOf } from './command.ts';
import { percent, progressLines } from './upkeep-progress.ts';
import { dataFolderOf } from './with-data-folder.ts';

export const restoreCommand: Command = {
  name: 'restore',
  summary: 'puts a backup in the place of the record, once all of it has been checked; the program must not run',
  positional: [{ name: 'file', description: 'a file that mainsdiary backup wrote', required: true }],
  options: [
    { name: 'data', value: 'folder', description: 'data folder', fallback: './mainsdiary-data', example: '/srv/diary' },
    { name: 'replace', description: 'also where the record that is there is newer; it is kept aside' },
  ],
  examples: ['mainsdiary restore /media/stick/diary-2026-05-11.db'],
  async run([file], options) {
    const hold = holdDataFolder(dataFolderOf(textOf(options, 'data')));
    try {
      const tell = progressLines((done, total) => `checking the backup: ${percent(done, total)}`);
      const { check, channels, keptAside } = await restoreRecord(
        hold.folder,
        resolve(file!),
        { replace: options['replace'] === true, nowMs: Date.now() },
        ({ done, total }) => tell(done, total),
      );
      const lastMs = channels.reduce((last, channel) => Math.max(last, channel.lastMs), Number.NEGATIVE_INFINITY);
      const loggers = new Set(channels.map((channel) => channel.loggerId)).size;
      const until = Number.isFinite(lastMs) ? `, the last of ${formatRfc3339(lastMs)}` : '';
      process.stdout.write(
        `The record is back: ${loggers} loggers, ${check.samples} samples in ${check.hours} sealed hours and since${until}.\n`,
      );
      if (keptAside) process.stdout.write(`What was there before is kept as ${keptAside}.\n`);
      return 0;
    } finally {
      hold.release();
    }
  },
};

import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { Problem } from '../../collector/model/problem.ts';
import { holdDataFolder, readHolder } from '../../collector/store/data-folder.ts';
import type { Store } from '../../collector/store/port.ts';
import { openSqliteStore, STORE_FILE } from '../../collector/store/sqlite/open-store.ts';
import { environmentName, SETTING_ROWS } from '../settings.ts';
import { systemClock } from '../system-clock.ts';
import type { LocalServer } from './import-through-server.ts';

/** What a command can work with: the server that holds the folder, or the store itself. */
export type DataFolderWay = { readonly server: LocalServer } | { readonly store: Store };

/** The folder that a command was given: by its flag, by the environment, or the default. */
export function dataFolderOf(named: string | undefined): string {
  return named ?? process.env[environmentName('data')] ?? SETTING_ROWS[0].fallback;
}

/**
 * Lets a command work on a data folder: through the server while one holds it, else on the store, which is held for the
 * time of the action so that no server starts in between.
 * @throws Problem `data_folder_held` where the holder is a command, or a server that does not listen yet;
 * `nothing_recorded` where the folder holds no record: a mistyped name must not pass for an empty one.
 */
export async function withDataFolder<Result>(
  named: string | undefined,
  action: (way: DataFolderWay) => Promise<Result>,
): Promise<Result> {
  const folder = dataFolderOf(named);
  const holder = readHolder(folder);
  if (holder?.address !== undefined) return action({ server: { address: holder.address, token: holder.token } });
  if (holder)
    throw new Problem(
      'data_folder_held',
      `The data folder ${folder} is in use by process ${holder.pid}, which does not listen`,
      'Wait until it has started or ended, then try again',
    );
  if (!existsSync(join(folder, STORE_FILE)))
    throw new Problem(
      'nothing_recorded',
      `There is no record in ${resolve(folder)}.`,
      'Name the data folder that mainsdiary serve uses, for example --data /srv/diary.',
    );
  const hold = holdDataFolder(folder);
  try {
    const store = await openSqliteStore({ folder: hold.folder, clock: systemClock });
    try {
      return await action({ store });
    } finally {
      await store.close();
    }
  } finally {
    hold.release();
  }
}

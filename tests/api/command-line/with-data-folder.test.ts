import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { backupCommand } from '../../../api/command-line/backup.ts';
import { checkCommand } from '../../../api/command-line/check.ts';
import { temporaryFolder } from '../../support/program.ts';

it.each([
  ['a folder that is not there', () => join(temporaryFolder(), 'mistyped')],
  ['a folder without a record', () => temporaryFolder()],
])('%s is neither checked nor backed up as an empty record, and nothing is made', async (_, make) => {
  const data = make();
  const there = existsSync(data);
  const copy = join(temporaryFolder(), 'diary.db');
  const refused = { code: 'nothing_recorded', message: `There is no record in ${data}.` };
  await expect(checkCommand.run([], { data })).rejects.toMatchObject(refused);
  await expect(backupCommand.run([copy], { data })).rejects.toMatchObject(refused);
  expect(existsSync(copy)).toBe(false);
  expect(existsSync(data)).toBe(there);
  expect(existsSync(join(data, 'samples.db'))).toBe(false);
});

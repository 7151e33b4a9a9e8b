import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { addLogger, addSite, exportedSamples } from '../../support/api.ts';
import { type RunningProgram, runCommand, startProgram, temporaryFolder } from '../../support/program.ts';

const ROWS = Array.from({ length: 5000 }, (_, i) => {
  const time = new Date(Date.UTC(2026, 0, 5) + i * 1000).toISOString();
  return `${time},${(2 + (i % 300) / 1000).toFixed(3)}`;
});
const FILE = `time,pressure_bar\n${ROWS.join('\n')}\n`;
const folder = temporaryFolder();
const file = (name: string, content: string | Buffer) => {
  writeFileSync(join(folder, name), content);
  return join(folder, name);
};

/** The command on a data folder of its own, or on the one that a server holds. */
const command = (data: string, args: readonly string[], input?: string) =>
  runCommand(['import', ...args, '--data', data], input === undefined ? {} : { input });

async function folderWithLogger(): Promise<string> {
  const data = temporaryFolder();
  const store = await openSqliteStore({ folder: data, clock: { nowMs: () => Date.now() } });
  await store.putLogger({ id: 'front-hall', createdMs: 0, keySha256: '0'.repeat(64) });
  await store.addChannelSetting({ loggerId: 'front-hall', channel: 'pressure', fromMs: 0, unit: 'kPa' });
  await store.close();
  return data;
}

describe('import without a server', () => {
  it('stores the file, and the same file again changes nothing', async () => {
    const data = await folderWithLogger();
    const path = file('week.csv', FILE);
    const first = await command(data, [path, '--logger', 'front-hall']);
    expect(first.stderr).not.toContain('wrong');
    expect(first.code).toBe(0);
    expect(first.stdout).toContain('5,000 rows: 5,000 stored as pressure of front-hall, 0 there already, 0 refused.');
    const again = await command(data, [path, '--logger', 'front-hall', '--json']);
    expect(JSON.parse(again.stdout)).toMatchObject({ stored: 0, duplicate: 5000, refusedCount: 0 });
  });

  it('takes the unit that the logger is set to where neither option nor column says one', async () => {
    const data = await folderWithLogger();
    const run = await command(data, ['-', '--logger', 'front-hall', '--json'], FILE.replace('pressure_bar', 'value'));
    expect(JSON.parse(run.stdout)).toMatchObject({ stored: 5000, understood: { unit: 'kPa' } });
  });

  it('asks by the names of its own options, and takes the answers', async () => {
    const data = await folderWithLogger();
    const path = file('dates.csv.gz', gzipSync('Time;Value\n04/05/2026 06:31;1,482\n'));
    const asked = await command(data, [path, '--logger', 'front-hall']);
    expect(asked.code).toBe(1);
    expect(asked.stdout).toBe('');
    expect(asked.stderr).toContain('--date-order day-first (4 May 2026) or --date-order month-first (5 April 2026)');
    expect(asked.stderr).toContain('--zone Europe/London');
    const answers = ['--date-order', 'day-first', '--zone', 'Europe/London', '--unit', 'bar'];
    const run = await command(data, [path, '--logger', 'front-hall', ...answers]);
    expect(run.code, run.stderr).toBe(0);
    expect(run.stdout).toContain('1 row: 1 stored');
    expect(run.stdout).toContain('delimiter semicolon, decimal comma');
  });

  it.each([
    [['nowhere.csv', '--logger', 'front-hall'], 1, 'ENOENT'],
    [['week.csv'], 2, 'No logger was named'],
    [['week.csv', '--logger', 'Front Hall!', '--unit', 'furlong'], 2, 'unit is "furlong"'],
    [['week.csv', '--logger', 'attic'], 1, 'There is no logger "attic"'],
    [['week.csv', '--logger', 'front-hall', '--colour', 'blue'], 2, 'unknown option'],
  ])('%j ends with %i and says %s', async (args, code, words) => {
    const data = await folderWithLogger();
    file('week.csv', FILE);
    const run = await command(data, [join(folder, args[0]!), ...args.slice(1)]);
    expect(run.code).toBe(code);
    expect(run.stderr).toContain(words);
    expect(run.stdout).toBe('');
  });
});

describe('import while a server holds the data folder', () => {
  let program: RunningProgram;
  beforeAll(async () => {
    program = await startProgram();
    await addLogger(program.base, await addSite(program.base, '12 Sample Row', 'Europe/London'), 'front-hall');
  });
  afterAll(() => program.stop());

  it('goes through the server: the samples are there at once', async () => {
    const path = file('week.csv.gz', gzipSync(FILE));
    const run = await command(program.folder, [path, '--logger', 'front-hall', '--json']);
    expect(run.code, run.stderr).toBe(0);
    expect(JSON.parse(run.stdout)).toMatchObject({ rows: 5000, stored: 5000, refusedCount: 0 });
    const samples = await exportedSamples(program.base, 'front-hall');
    expect(samples).toHaveLength(5000);
    const again = await command(program.folder, ['-', '--logger', 'front-hall', '--json'], FILE);
    expect(JSON.parse(again.stdout)).toMatchObject({ stored: 0, duplicate: 5000 });
  });

  it("passes on the server's questions and refusals in its own words", async () => {
    const asked = await command(program.folder, ['-', '--logger', 'front-hall'], 'time,value\n2026-01-05 00:00:00,1\n');
    expect(asked.code).toBe(1);
    expect(asked.stderr).toContain('--zone Europe/London');
    const unknown = await command(program.folder, ['-', '--logger', 'attic'], FILE);
    expect(unknown.code).toBe(1);
    expect(unknown.stderr).toContain('attic');
  });
});

import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { addLogger, addSite, api, exportedSamples } from '../support/api.ts';
import { type RunningProgram, runCommand, startProgram, temporaryFolder } from '../support/program.ts';

const START_MS = Date.UTC(2026, 4, 4);
/** A week of hours at a second with noise that doesn't pack, so that a copy takes more than an instant. */
const HISTORY = 600_000;

let program: RunningProgram;
let key: string;
const elsewhere = temporaryFolder();
const backup = join(elsewhere, 'diary.db');

/** Repeatable noise of nine digits (Lehmer's generator, Park and Miller 1988). */
function history(): string {
  let state = 4711;
  const rows = ['time,pressure_bar'];
  for (let i = 0; i < HISTORY; i++) {
    state = (state * 48271) % 2147483647;
    rows.push(`${new Date(START_MS + i * 1000).toISOString()},${(2 + state / 2147483647).toFixed(8)}`);
  }
  return rows.join('\n');
}

beforeAll(async () => {
  program = await startProgram();
  key = await addLogger(program.base, await addSite(program.base), 'front-hall');
  const file = join(elsewhere, 'history.csv');
  writeFileSync(file, history());
  const imported = await runCommand(['import', file, '--logger', 'front-hall', '--data', program.folder]);
  expect(imported.code, imported.stderr).toBe(0);
});
afterAll(() => program.kill());

describe('a backup of the running program', () => {
  it('comes whole and private while a logger publishes; nothing is refused, and acknowledging never pauses for it', async () => {
    const client = await connectAsync(`mqtt://127.0.0.1:${program.mqttPort}`, {
      username: 'front-hall',
      password: key,
      clientId: 'front-hall',
    });
    let publishing = true;
    let next = HISTORY + 100_000;
    const acknowledgedAtMs: number[] = [];
    const acknowledged: number[] = [];
    const publishOn = async () => {
      while (publishing) {
        const timeMs = START_MS + next * 1000;
        next += 10;
        const batch = Array.from({ length: 10 }, (_, i) => ({ time: timeMs + i * 1000, value: 2.5 }));
        await client.publishAsync('mainsdiary/front-hall/pressure', JSON.stringify(batch), { qos: 1 });
        acknowledged.push(timeMs);
        acknowledgedAtMs.push(performance.now());
      }
    };
    // Four messages under way at any time: well over a thousand samples a second.
    const publisher = Promise.all([publishOn(), publishOn(), publishOn(), publishOn()]);
    while (acknowledged.length < 50) await new Promise((resolve) => setTimeout(resolve, 1));
    const before = acknowledged.slice();
    const beganMs = performance.now();
    const done = await runCommand(['backup', backup, '--data', program.folder]);
    const endedMs = performance.now();
    publishing = false;
    await publisher;
    await client.endAsync();
    expect(done, done.stderr).toMatchObject({ code: 0, stdout: expect.stringContaining(backup) });
    expect(done.stderr).toMatch(/the server copies the record[\s\S]*received: 100 % of/);
    expect(statSync(backup).mode & 0o777).toBe(0o600);
    expect(readdirSync(elsewhere).sort()).toEqual(['diary.db', 'history.csv']);
    expect(readdirSync(join(program.folder, 'spool'))).toEqual([]);

    const during = acknowledgedAtMs.filter((atMs) => atMs >= beganMs && atMs <= endedMs);
    expect(during.length).toBeGreaterThan(10);
    const pauses = during.map((atMs, i) => atMs - (i === 0 ? beganMs : during[i - 1]!));
    console.log(
      `backup of ${(statSync(backup).size / 1e6).toFixed(1)} MB in ${(endedMs - beganMs).toFixed(0)} ms beside ` +
        `${((during.length * 10_000) / (endedMs - beganMs)).toFixed(0)} samples/s; longest pause between acknowledgements ${Math.max(...pauses).toFixed(0)} ms`,
    );
    // The copying takes most of the command's time: a server that stood still for it would show one long pause.
    expect(Math.max(...pauses)).toBeLessThan((endedMs - beganMs) / 2);
    expect(await api(program.base, 'GET', '/api/loggers/front-hall/refusals')).toEqual([]);
    const stored = new Set((await exportedSamples(program.base, 'front-hall')).map(([timeMs]) => timeMs));
    expect(acknowledged.filter((timeMs) => !stored.has(timeMs))).toEqual([]);

    // The copy holds at least what was acknowledged before it began, and whole messages only.
    const folder = join(elsewhere, 'restored');
    mkdirSync(folder);
    const restored = await runCommand(['restore', backup, '--data', folder]);
    expect(restored, restored.stderr).toMatchObject({
      code: 0,
      stdout: expect.stringMatching(/^The record is back: 1 loggers/),
    });
    const copy = await startProgram({ folder });
    const inCopy = new Set((await exportedSamples(copy.base, 'front-hall')).map(([timeMs]) => timeMs));
    expect(await copy.stop()).toBe(0);
    expect(before.filter((timeMs) => !inCopy.has(timeMs))).toEqual([]);
    expect((inCopy.size - HISTORY) % 10).toBe(0);
    expect(inCopy.size).toBeLessThanOrEqual(stored.size);
  });

  it('is never written over another file without --replace', async () => {
    const before = readFileSync(backup);
    const refused = await runCommand(['backup', backup, '--data', program.folder]);
    expect(refused).toMatchObject({ code: 1, stderr: expect.stringMatching(/is there already[\s\S]*--replace/) });
    expect(readFileSync(backup).equals(before)).toBe(true);
    expect(await runCommand(['backup', backup, '--data', program.folder, '--replace'])).toMatchObject({ code: 0 });
    const nowhere = await runCommand(['backup', join(elsewhere, 'no', 'diary.db'), '--data', program.folder]);
    expect(nowhere).toMatchObject({ code: 1, stderr: expect.stringMatching(/can't be written \(ENOENT\)/) });
  });

  it('is given to the command of the same user only, not to whoever reaches the port', async () => {
    for (const headers of [{}, { authorization: 'Bearer guessed' }]) {
      const answer = await fetch(`${program.base}/api/backup`, { headers });
      expect(answer.status).toBe(401);
      expect(await answer.json()).toMatchObject({
        code: 'sign_in_needed',
        hint: expect.stringContaining('mainsdiary backup'),
      });
    }
  });

  it('cannot be restored while the program holds the folder', async () => {
    const refused = await runCommand(['restore', backup, '--data', program.folder, '--replace']);
    expect(refused).toMatchObject({ code: 1, stderr: expect.stringMatching(/is held by process \d+ at http/) });
  });
});

describe('mainsdiary check', () => {
  it('goes through the running program and says that the record is whole', async () => {
    const checked = await runCommand(['check', '--data', program.folder]);
    expect(checked, checked.stderr).toMatchObject({
      code: 0,
      stdout: expect.stringMatching(/^The record is whole: 1\d\d sealed hours/),
    });
    expect(await api(program.base, 'GET', '/api/check')).toMatchObject({ state: 'done', faultCount: 0 });
    expect(await api(program.base, 'GET', '/api/health')).toMatchObject({ status: 'ok', record: 'ok' });
  });

  it('finds a changed seal without the program, exits 1, and names the hour; health then tells it', async () => {
    expect(await program.stop()).toBe(0);
    const database = openPlainFile(join(program.folder, 'samples.db'));
    database.prepare('update block set sha256 = zeroblob(32) where hour = ?').run(START_MS / 3_600_000 + 5);
    database.close();
    const checked = await runCommand(['check', '--data', program.folder]);
    expect(checked.code).toBe(1);
    expect(checked.stdout).toMatch(/^1 fault in/);
    expect(checked.stdout).toMatch(/front-hall pressure 2026-05-04T05:00:00Z: seal differs/);
    program = await startProgram({ folder: program.folder });
    expect((await runCommand(['check', '--data', program.folder])).code).toBe(1);
    const health = await api<{ status: string; record: string }>(program.base, 'GET', '/api/health');
    expect(health.status).toBe('ok');
    expect(health.record).toMatch(/1 fault in the record.*front-hall pressure 2026-05-04T05:00:00Z/);
    // It is told after a restart too.
    await program.stop();
    program = await startProgram({ folder: program.folder });
    expect((await api<{ record: string }>(program.base, 'GET', '/api/health')).record).toBe(health.record);
    await program.stop();
    const restored = await runCommand(['restore', backup, '--data', program.folder, '--replace']);
    expect(restored, restored.stderr).toMatchObject({ code: 0, stdout: expect.stringMatching(/kept as .*replaced-/) });
    expect(existsSync(join(program.folder, 'samples.db'))).toBe(true);
    expect(await runCommand(['check', '--data', program.folder])).toMatchObject({ code: 0 });
  });
});

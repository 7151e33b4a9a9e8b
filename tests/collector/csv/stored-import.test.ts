import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { importCsv } from '../../../collector/csv/import-csv.ts';
import { Problem } from '../../../collector/model/problem.ts';
import type { Store } from '../../../collector/store/port.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { NOW_MS, problemOf } from './csv-support.ts';

let folder: string;
let store: Store;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'mainsdiary-test-'));
  store = await openSqliteStore({ folder: join(folder, 'data'), clock: { nowMs: () => NOW_MS } });
  await store.putLogger({ id: 'front-hall', createdMs: NOW_MS, keySha256: '0'.repeat(64) });
});

afterEach(async () => {
  await store.close();
  rmSync(folder, { recursive: true, force: true });
});

const importInto = (text: string | Readable) =>
  importCsv({
    input: typeof text === 'string' ? Readable.from([Buffer.from(text)]) : text,
    options: { loggerId: 'front-hall', channel: 'pressure' },
    storePieces: (pieces) => store.store(pieces),
    nowMs: NOW_MS,
    spoolFolder: folder,
  });

const START_MS = Date.UTC(2026, 4, 4);
const ROWS = Array.from(
  { length: 20_000 },
  (_, i) => `${new Date(START_MS + i * 1000).toISOString()},${(2 + (i % 500) / 1000).toFixed(3)}`,
);
const FILE = `time,pressure_bar\n${ROWS.join('\n')}\n`;

describe('an import into a store', () => {
  it('keeps every sample as sent, and the same file again changes nothing', async () => {
    expect(await importInto(FILE)).toMatchObject({ rows: 20_000, stored: 20_000, duplicate: 0, conflict: 0 });
    const digest = await store.spanDigest('front-hall', 'pressure', START_MS, NOW_MS);
    expect(await importInto(FILE)).toMatchObject({ rows: 20_000, stored: 0, duplicate: 20_000, conflict: 0 });
    expect(await store.spanDigest('front-hall', 'pressure', START_MS, NOW_MS)).toBe(digest);
    const values: number[] = [];
    for await (const run of store.runs('front-hall', 'pressure', START_MS, NOW_MS)) {
      expect(run.unit).toBe('bar');
      values.push(...run.value);
    }
    expect(values).toEqual(ROWS.map((row) => Number(row.split(',')[1])));
  });

  it('another value at a time that is there stays outside, counted as a conflict', async () => {
    await importInto(FILE);
    const other = FILE.replace(/,2\.000\n/, ',3.000\n');
    expect(await importInto(other)).toMatchObject({ stored: 0, duplicate: 19_999, conflict: 1 });
  });

  it('a file that needs an answer, or is broken further on, leaves nothing behind', async () => {
    await problemOf(importInto(FILE.replaceAll('.000Z', '')));
    await problemOf(importInto(`${FILE}"2026-05-04T09:00:00Z","1.5"\n${'x'.repeat(100_000)}`));
    expect(await store.extent('front-hall', 'pressure')).toBeUndefined();
    expect(readdirSync(folder)).toEqual(['data']);
  });

  it('an upload that breaks off stores nothing, says so and leaves no temporary file', async () => {
    const upload = Readable.from(
      (async function* () {
        yield Buffer.from(FILE.slice(0, 100_000));
        throw new Error('connection reset');
      })(),
    );
    const problem = await problemOf(importInto(upload));
    expect(problem.code).toBe('upload_interrupted');
    expect(await store.extent('front-hall', 'pressure')).toBeUndefined();
    expect(readdirSync(folder)).toEqual(['data']);
  });

  it('a store that fails midway rejects with its own problem, and the file sent again completes it', async () => {
    let calls = 0;
    const failing = importCsv({
      input: Readable.from([
        Buffer.from(
          `time,pressure_bar\n${ROWS.concat(ROWS.map((row) => row.replace('2026-05-04', '2026-05-05'))).join('\n')}\n`,
        ),
      ]),
      options: { loggerId: 'front-hall', channel: 'pressure' },
      storePieces: async (pieces) => {
        calls++;
        if (calls > 1) throw new Problem('store_full', 'The disk is full', 'Free some space');
        return store.store(pieces);
      },
      nowMs: NOW_MS,
      spoolFolder: folder,
    });
    expect((await problemOf(failing)).code).toBe('store_full');
    expect(readdirSync(folder)).toEqual(['data']);
    const again = await importInto(FILE);
    expect(again.stored + again.duplicate).toBe(20_000);
    expect((await store.extent('front-hall', 'pressure'))?.count).toBeGreaterThanOrEqual(20_000);
  });

  it('a folder that cannot take the upload is named', async () => {
    const problem = await problemOf(
      importCsv({
        input: Readable.from([Buffer.from(FILE)]),
        options: { loggerId: 'front-hall', channel: 'pressure' },
        storePieces: (pieces) => store.store(pieces),
        nowMs: NOW_MS,
        spoolFolder: join(folder, 'missing'),
      }),
    );
    expect(problem.code).toBe('spool_failed');
    expect(problem.message).toContain('missing');
  });
});

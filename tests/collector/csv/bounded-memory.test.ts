import { spawnSync } from 'node:child_process';
import { createWriteStream, existsSync } from 'node:fs';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { fileURLToPath } from 'node:url';
import { createGzip } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { temporaryFolder } from '../../support/program.ts';

const CHILD = fileURLToPath(new URL('../../../dist/tests/collector/csv/import-in-child.js', import.meta.url));

/** A log at 1 Hz as gzip, made in passing. */
async function writeLog(path: string, rows: number): Promise<void> {
  const text = function* () {
    yield 'time,pressure_bar\n';
    for (let from = 0; from < rows; from += 3600) {
      const hour = Array.from({ length: Math.min(3600, rows - from) }, (_, i) => {
        const atMs = Date.UTC(2026, 0, 1) + (from + i) * 1000;
        return `${new Date(atMs).toISOString()},${(2 + Math.sin((from + i) / 977)).toFixed(3)}\n`;
      });
      yield hour.join('');
    }
  };
  await pipeline(Readable.from(text()), createGzip({ level: 1 }), createWriteStream(path));
}

/** Imports in a process whose heap may hold no more than `heapMb`. */
function importInChild(path: string, heapMb: number) {
  if (!existsSync(CHILD)) throw new Error('the program is not built: run npm run build');
  const child = spawnSync(process.execPath, [`--max-old-space-size=${heapMb}`, CHILD, path], { encoding: 'utf8' });
  expect(child.status, child.stderr.slice(-2000)).toBe(0);
  return JSON.parse(child.stdout) as { stored: number; refusedCount: number; largestKb: number };
}

describe('an import', () => {
  it('of 600,000 rows lives in a heap of 48 MB and is hardly larger than one of 60,000', async () => {
    const folder = temporaryFolder();
    const sizes: number[] = [];
    for (const rows of [60_000, 600_000, 1_800_000]) {
      const path = join(folder, `${rows}.csv.gz`);
      await writeLog(path, rows);
      const imported = importInChild(path, 48);
      expect(imported).toMatchObject({ stored: rows, refusedCount: 0 });
      sizes.push(imported.largestKb);
    }
    console.log(
      `largest size of the importing process: ${sizes.map((kb) => `${Math.round(kb / 1000)} MB`).join(', ')} for 60,000, 600,000 and 1,800,000 rows`,
    );
    expect(sizes[1]! / sizes[0]!).toBeLessThan(1.6);
    expect(sizes[2]! / sizes[1]!).toBeLessThan(1.25);
  });
});

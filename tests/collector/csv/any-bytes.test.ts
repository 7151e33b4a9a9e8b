import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { previewCsv } from '../../../collector/csv/preview-csv.ts';
import { Problem } from '../../../collector/model/problem.ts';
import { importText, NOW_MS } from './csv-support.ts';

const LOG = Buffer.from(
  `time;value;note\n${Array.from({ length: 60 }, (_, i) => `2026-10-25 0${i % 4}:${String(i).padStart(2, '0')}:00;1,${400 + i};"a ""b"""`).join('\r\n')}\n`,
);

/** A good file with a few bytes written over, cut out or put in. */
const damaged = fc
  .tuple(
    fc.array(fc.tuple(fc.nat(LOG.length - 1), fc.constantFrom(0, 0x0a, 0x22, 0x2c, 0x3b, 0x39, 0xff, 0x2f, 0x3a)), {
      maxLength: 12,
    }),
    fc.nat(LOG.length),
    fc.boolean(),
  )
  .map(([changes, end, packed]) => {
    const bytes = Buffer.from(LOG.subarray(0, end));
    for (const [at, byte] of changes) if (at < bytes.length) bytes[at] = byte;
    return packed ? gzipSync(bytes) : bytes;
  });
const anything = fc.uint8Array({ maxLength: 400 }).map((bytes) => Buffer.from(bytes));

describe('whatever bytes come', () => {
  it('they are imported, refused row by row, or refused with a Problem; every row is accounted for', async () => {
    let imported = 0;
    await fc.assert(
      fc.asyncProperty(fc.oneof({ arbitrary: damaged, weight: 4 }, anything), fc.boolean(), async (bytes, told) => {
        const options = told ? { zone: 'Europe/London', time: 'time', value: 'value' } : { zone: 'Europe/London' };
        try {
          const { report, values } = await importText(bytes, options);
          expect(report.rows).toBe(report.stored + report.refusedCount);
          expect(values.every((value) => Number.isFinite(value))).toBe(true);
          imported++;
        } catch (error) {
          if (!(error instanceof Problem)) throw error;
          expect(error.message + error.hint).not.toMatch(/undefined|NaN|\[object/);
        }
        try {
          await previewCsv(bytes, { loggerId: 'front-hall', channel: 'pressure', ...options }, NOW_MS);
        } catch (error) {
          if (!(error instanceof Problem)) throw error;
        }
      }),
      { numRuns: 150 },
    );
    expect(imported).toBeGreaterThan(10);
  });
});

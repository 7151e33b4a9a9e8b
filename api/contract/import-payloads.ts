import { z } from 'zod';
import { byId, channel, emptyIsMissing, time, timeZone } from './payload-parts.ts';
import type { RoutePayload } from './route-payload.ts';
import type { RouteId } from './route-table.ts';

/* CSV files brought in. */

/** Bytes of a file's beginning that a preview reads. */
export const PREVIEW_BYTES_LIMIT = 256 * 1024;

const csvBody = ['text/csv', 'application/gzip'] as const;

const csvOptions = {
  channel: emptyIsMissing(channel),
  time: emptyIsMissing(z.string().max(200)),
  value: emptyIsMissing(z.string().max(200)),
  unit: emptyIsMissing(z.string().max(16)),
  zone: emptyIsMissing(timeZone),
  date: emptyIsMissing(z.string().max(20)),
  dateOrder: emptyIsMissing(z.string().max(20)),
  clockForm: emptyIsMissing(z.string().max(10)),
  decimal: emptyIsMissing(z.string().max(1)),
  delimiter: emptyIsMissing(z.string().max(1)),
};

/** How a file was read, or would be. */
const understoodFile = z.looseObject({
  delimiter: z.string(),
  decimal: z.string(),
  timeColumns: z.array(z.string()),
  valueColumn: z.string(),
  unit: z.string(),
  zone: z.string(),
  headerLine: z.number().int().nullable(),
});

export const importResult = z.looseObject({
  rows: z.number().int(),
  stored: z.number().int(),
  duplicate: z.number().int(),
  conflict: z.number().int(),
  /** Rows of hours whose samples were erased by age (`keepRawDays` of the site); they are left out. */
  erased: z.number().int(),
  /** The first 100. */
  refused: z.array(z.object({ line: z.number().int(), reason: z.string() })),
  refusedCount: z.number().int(),
  understood: understoodFile,
});

/** How a file would be read, judged from its beginning. The problem `needs_answer` holds the same `questions`. */
export const importPreview = z.looseObject({
  columns: z.array(z.string()),
  /** null while the columns are open. */
  understood: understoodFile.nullable(),
  /** The time of the first row, as it stands in the file. */
  timeAsWritten: z.string().nullable(),
  rows: z.array(
    z.union([
      z.object({
        line: z.number().int(),
        text: z.string(),
        time: time,
        value: z.number(),
        unit: z.string(),
      }),
      z.object({ line: z.number().int(), text: z.string(), refused: z.string() }),
    ]),
  ),
  /** What would have to be answered: `option` is the parameter of the import that takes the answer. */
  questions: z.array(
    z.object({
      option: z.string(),
      question: z.string(),
      answers: z.array(z.object({ value: z.string(), meaning: z.string() })),
      example: z.string().optional(),
    }),
  ),
  /** False where only the beginning of the file was seen. */
  whole: z.boolean(),
});

export const IMPORT_PAYLOADS = {
  importSamples: {
    params: byId,
    query: z.strictObject(csvOptions),
    body: z.string(),
    bodyTypes: csvBody,
    response: importResult,
    status: 200,
  },
  previewImport: {
    params: byId,
    query: z.strictObject(csvOptions),
    body: z.string(),
    bodyTypes: csvBody,
    response: importPreview,
    status: 200,
  },
} as const satisfies Partial<Record<RouteId, RoutePayload>>;

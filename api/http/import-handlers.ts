import type { Request } from 'express';
import { type CsvOptions, checkCsvOptions } from '../../collector/csv/csv-options.ts';
import { importCsv } from '../../collector/csv/import-csv.ts';
import { previewCsv } from '../../collector/csv/preview-csv.ts';
import type { Clock } from '../../collector/model/clock.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { Piece, PieceOutcome, Store } from '../../collector/store/port.ts';
import { PREVIEW_BYTES_LIMIT } from '../contract/import-payloads.ts';
import type { ProgressFrame } from '../contract/live-frames.ts';
import type { CheckedQueryOf, ImportPreviewResponse, ImportResponse } from '../contract/payloads.ts';
import { settingInForce } from '../work/calibration-in-force.ts';
import type { Handlers } from './handlers.ts';
import { knownLogger } from './known-resources.ts';

/** Imports that run at once: each takes disk for its spool and a share of the commits. */
const IMPORTS_LIMIT = 4;

export function importHandlers(needs: {
  store: Store;
  clock: Clock;
  storePieces: (pieces: readonly Piece[]) => Promise<PieceOutcome[]>;
  /** Where uploads are held until they are read: in the data folder, whose disk is the one that must have room. */
  spoolFolder: string;
  progress: (frame: Omit<ProgressFrame, 'type' | 'version'>) => void;
  changed: (what: 'samples', id: string) => void;
}): Pick<Handlers, 'importSamples' | 'previewImport'> {
  const { store, clock, storePieces, spoolFolder, progress, changed } = needs;
  let running = 0;

  async function csvOptions(id: string, query: CheckedQueryOf<'importSamples'>): Promise<CsvOptions> {
    const logger = await knownLogger(store, id);
    if (logger.hiddenMs !== undefined)
      throw new Problem('logger_hidden', `The logger "${id}" is hidden`, 'Show it again with PATCH {"hidden": false}');
    const channel = query.channel ?? 'pressure';
    const options = {
      ...query,
      loggerId: id,
      channel,
      defaultUnit: settingInForce(await store.channelSettings(id), channel, clock.nowMs())?.unit,
    } as CsvOptions;
    checkCsvOptions(options);
    return options;
  }

  return {
    async importSamples({ params, query, request }) {
      const options = await csvOptions(params.id, query);
      if (running >= IMPORTS_LIMIT)
        throw new Problem('busy', `${running} imports run already`, 'Send the file again once one of them has ended');
      running += 1;
      const tell = (done: number, finished: boolean) =>
        progress({ task: 'import', subject: params.id, done, total: null, finished });
      let rows = 0;
      try {
        refuseEncoding(request);
        const report = await importCsv({
          input: request,
          options,
          storePieces,
          nowMs: clock.nowMs(),
          spoolFolder,
          onProgress: (step) => {
            if (step.step === 'storing') rows = step.rows;
            tell(rows, false);
          },
        });
        rows = report.rows;
        return report as ImportResponse;
      } finally {
        running -= 1;
        tell(rows, true);
        changed('samples', params.id);
      }
    },
    async previewImport({ params, query, request }) {
      const options = await csvOptions(params.id, query);
      refuseEncoding(request);
      const preview = await previewCsv(await readBeginning(request), options, clock.nowMs());
      return {
        ...preview,
        understood: preview.understood ?? null,
        timeAsWritten: preview.timeAsWritten ?? null,
      } as ImportPreviewResponse;
    },
  };
}

/** A file is told by its own first bytes; a transfer coded on top of it would be unpacked by nobody. */
function refuseEncoding(request: Request): void {
  const encoding = request.headers['content-encoding'];
  if (encoding !== undefined && encoding !== 'identity')
    throw new Problem(
      'unsupported_content_type',
      `The content encoding ${JSON.stringify(encoding.slice(0, 40))} is not taken`,
      'Send a gzip file as application/gzip without Content-Encoding',
    );
}

/** @throws Problem `body_too_large` beyond what a preview reads. */
async function readBeginning(request: Request): Promise<Uint8Array> {
  const parts: Buffer[] = [];
  let length = 0;
  // Not destroyed when too much comes: the refusal still has to be sent on this connection.
  for await (const part of request.iterator({ destroyOnReturn: false }) as AsyncIterable<Buffer>) {
    parts.push(part);
    length += part.length;
    if (length > PREVIEW_BYTES_LIMIT)
      throw new Problem(
        'body_too_large',
        `A preview reads at most ${PREVIEW_BYTES_LIMIT} bytes`,
        'Send the beginning of the file only',
      );
  }
  return Buffer.concat(parts);
}

import { analyseOnce } from '../analysis/analyse.ts';
import type { AnalysisSite, FindingsDocument } from '../analysis/findings.ts';
import { letterContent } from '../letter/letter-content.ts';
import type { LetterInput } from '../letter/letter-input.ts';
import { renderHtml } from '../letter/render-html.ts';
import { renderPdf } from '../letter/render-pdf.ts';
import { joinColumns, type RecordedChannels } from './join-columns.ts';
import { createKeptWatches } from './kept-watches.ts';
import { packFindings } from './packed-findings.ts';

/** What runs beside the main thread. Results are bytes ready to be sent, so that writing JSON costs no sample its turn. */
export type Job =
  | { readonly kind: 'findings'; readonly recorded: RecordedChannels; readonly site: AnalysisSite }
  /** As `findings`, and the log is watched from then on under this name. */
  | {
      readonly kind: 'watch';
      readonly watch: string;
      readonly recorded: RecordedChannels;
      readonly site: AnalysisSite;
    }
  /** What a watched log recorded from a time on; the channels beside the pressure from `JOIN_BEFORE_MS` before it. */
  | { readonly kind: 'step'; readonly watch: string; readonly recorded: RecordedChannels; readonly fromMs: number }
  | {
      readonly kind: 'letter';
      readonly format: 'pdf' | 'html';
      readonly input: Omit<LetterInput, 'findings'>;
      readonly findingsJson: Uint8Array;
    };

export type RunJob = (job: Job) => Promise<Uint8Array>;

/**
 * Does jobs: packed findings, or the letter as HTML or PDF. What is watched is kept between jobs; a step of what isn't
 * any more gives no bytes.
 */
export function createJobRunner(): RunJob {
  const watches = createKeptWatches();
  return async (job) => {
    switch (job.kind) {
      case 'findings':
        return packFindings(analyseOnce(joinColumns(job.recorded), job.site));
      case 'watch':
        return packFindings(watches.begin(job.watch, job.recorded, job.site));
      case 'step': {
        const found = watches.step(job.watch, job.recorded, job.fromMs);
        return found ? packFindings(found) : new Uint8Array();
      }
      case 'letter': {
        const findings = JSON.parse(new TextDecoder().decode(job.findingsJson)) as FindingsDocument;
        const content = letterContent({ ...job.input, findings });
        return job.format === 'html'
          ? new TextEncoder().encode(renderHtml(content))
          : renderPdf(content, job.input.writtenMs);
      }
      default:
        return job satisfies never;
    }
  };
}

/** The columns of a job, which are handed over instead of copied. The sender can't use them afterwards. */
export function transferables(job: Job): ArrayBuffer[] {
  if (job.kind === 'letter') return [];
  const { pressure, flow, pump, inlet } = job.recorded;
  const series = [pressure, flow, pump, inlet];
  const buffers = series.flatMap((columns) => (columns ? [columns.timeMs.buffer, columns.value.buffer] : []));
  return [...new Set(buffers)].filter((buffer) => buffer instanceof ArrayBuffer);
}

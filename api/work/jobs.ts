import { analyse } from '../analysis/analyse.ts';
import type { AnalysisSite, FindingsDocument } from '../analysis/findings.ts';
import { letterContent } from '../letter/letter-content.ts';
import type { LetterInput } from '../letter/letter-input.ts';
import { renderHtml } from '../letter/render-html.ts';
import { renderPdf } from '../letter/render-pdf.ts';
import { joinColumns, type RecordedChannels } from './join-columns.ts';

/** What runs beside the main thread. Results are bytes ready to be sent, so that writing JSON costs no sample its turn. */
export type Job =
  | { readonly kind: 'findings'; readonly recorded: RecordedChannels; readonly site: AnalysisSite }
  | {
      readonly kind: 'letter';
      readonly format: 'pdf' | 'html';
      readonly input: Omit<LetterInput, 'findings'>;
      readonly findingsJson: Uint8Array;
    };

/** Does a job: the findings document as JSON, or the letter as HTML or PDF. */
export async function runJob(job: Job): Promise<Uint8Array> {
  switch (job.kind) {
    case 'findings':
      return new TextEncoder().encode(JSON.stringify(analyse(joinColumns(job.recorded), job.site)));
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
}

/** The columns of a job, which are handed over instead of copied. The sender can't use them afterwards. */
export function transferables(job: Job): ArrayBuffer[] {
  if (job.kind !== 'findings') return [];
  const { pressure, flow, pump, inlet } = job.recorded;
  const buffers = [pressure, flow, pump, inlet].flatMap((series) =>
    series ? [series.timeMs.buffer, series.value.buffer] : [],
  );
  return [...new Set(buffers)].filter((buffer) => buffer instanceof ArrayBuffer);
}

import type { ImportResponse, ProblemBody, QueryOf } from '../../api/contract/payloads.ts';
import { ApiError, routeAddress } from './api-client.ts';

/**
 * Sends a CSV file for import. XMLHttpRequest, because it alone tells how far an upload is.
 * Rejects with an ApiError; `needs_answer` carries the question.
 */
export function importFile(
  loggerId: string,
  query: QueryOf<'importSamples'>,
  file: File,
  onSent: (sentBytes: number, totalBytes: number) => void,
): Promise<ImportResponse> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open('POST', routeAddress('importSamples', { id: loggerId }, query));
    request.setRequestHeader('Content-Type', isGzip(file) ? 'application/gzip' : 'text/csv');
    request.setRequestHeader('Accept', 'application/json');
    request.responseType = 'json';
    request.upload.addEventListener('progress', (event) => onSent(event.loaded, event.total || file.size));
    request.addEventListener('load', () => {
      if (request.status === 200) resolve(request.response as ImportResponse);
      else
        reject(
          new ApiError(request.status, (request.response ?? {}) as Partial<ProblemBody> & Record<string, unknown>),
        );
    });
    request.addEventListener('error', () =>
      reject(
        new ApiError(0, {
          code: 'unreachable',
          detail: 'The connection broke while the file was being sent.',
          hint: 'Send it again: rows that are stored already are recognised and change nothing.',
        }),
      ),
    );
    request.send(file);
  });
}

export function isGzip(file: File): boolean {
  return /\.gz$/i.test(file.name) || file.type === 'application/gzip';
}

import type { ErrorRequestHandler, Response } from 'express';
import { ZodError } from 'zod';
import { Problem } from '../../collector/model/problem.ts';
import type { Log } from '../../collector/ports.ts';
import type { ProblemBody } from '../contract/payloads.ts';
import { problemKind } from '../problems.ts';
import { refusedField } from './refused-field.ts';

/** Faults of a request told at once; more would only be noise. */
const ERRORS_LIMIT = 20;
/** A refused sender that goes on sending is cut off after this much, or this long. */
const LINGER_BYTES = 64 * 1024 * 1024;
const LINGER_MS = 10_000;

/** Status and body (RFC 9457) of whatever was thrown. What isn't a Problem stays vague outside. */
export function problemBody(thrown: unknown): ProblemBody & Readonly<Record<string, unknown>> {
  const problem = asProblem(thrown);
  const kind = problemKind(problem.code);
  if (!kind) return problemBody(unknownFault(problem));
  return {
    ...problem.details,
    type: 'about:blank',
    title: kind.title,
    status: kind.status,
    detail: problem.message,
    code: problem.code,
    hint: problem.hint,
  };
}

/** Answers with problem details. A response that has begun can only be cut off. */
export function sendProblem(response: Response, thrown: unknown): void {
  const body = problemBody(thrown);
  if (response.headersSent) {
    response.destroy();
    return;
  }
  const { retryAfterS } = body;
  if (typeof retryAfterS === 'number') response.setHeader('Retry-After', String(retryAfterS));
  response.status(body.status).type('application/problem+json');
  const text = JSON.stringify(body);
  if (response.req.complete || response.req.destroyed) response.send(text);
  else answerWhileReading(response, text);
}

/**
 * Answers a request whose body is still coming, then closes the connection. The whole answer goes out at once, but the
 * close waits until the sender has noticed: closing on unread bytes resets the connection, and the answer is lost on
 * the way. What comes meanwhile is thrown away, and bounded.
 */
function answerWhileReading(response: Response, text: string): void {
  const { req: request } = response;
  response.setHeader('Connection', 'close');
  response.setHeader('Content-Length', Buffer.byteLength(text));
  response.write(text);
  const end = () => {
    clearTimeout(limit);
    response.end();
  };
  const limit = setTimeout(end, LINGER_MS);
  let left = LINGER_BYTES;
  request.on('data', (chunk: Buffer) => {
    left -= chunk.length;
    if (left < 0) end();
  });
  request.once('end', end);
  request.once('close', end);
  request.resume();
}

/** The last link of the app: everything thrown ends here, faults of ours with their cause in the log. */
export function problemHandler(log: Log): ErrorRequestHandler {
  return (thrown, request, response, _next) => {
    // Whoever asked has gone away: there is nobody to tell, and nothing went wrong here.
    if (request.socket.destroyed) return void response.destroy();
    const body = problemBody(thrown);
    if (body.status >= 500) log.error({ err: thrown, path: request.path, code: body.code }, 'a request failed');
    sendProblem(response, thrown);
  };
}

/** Faults in one part of a request, `sent` at `place` ("query", "body", "params"), as one Problem. */
export function requestProblem(place: string, error: ZodError, sent?: unknown): Problem {
  const errors = error.issues.slice(0, ERRORS_LIMIT).map((issue) => ({
    place: [place, ...issue.path.map(String)].join('.'),
    message: refusedField(issue, sent),
  }));
  const first = errors[0] ?? { place, message: 'is wrong' };
  return new Problem(
    'invalid_request',
    `${first.place}: ${first.message}`,
    'Correct it and send again; /api/openapi.json describes every request',
    { details: { errors } },
  );
}

function asProblem(thrown: unknown): Problem {
  if (thrown instanceof Problem) return thrown;
  if (thrown instanceof ZodError) return requestProblem('request', thrown);
  // The body parser's own errors carry a type; they are about the request, not about us.
  const type = (thrown as { type?: unknown } | undefined)?.type;
  switch (type) {
    case 'entity.too.large':
      return new Problem('body_too_large', 'The body is larger than this address takes', 'Send less at once');
    case 'entity.parse.failed':
      return new Problem('invalid_json', 'The body could not be read as JSON', 'Check quotes, commas and brackets');
    case 'encoding.unsupported':
    case 'charset.unsupported':
      return new Problem(
        'unsupported_content_type',
        'The body is encoded in a way that is not taken',
        'Send plain UTF-8',
      );
    case 'request.aborted':
    case 'request.size.invalid':
      return new Problem('invalid_request', 'The body ended before it was complete', 'Send it again');
  }
  if (thrown instanceof URIError)
    return new Problem(
      'invalid_request',
      'The address holds an escape that cannot be read',
      'Write it as %XX of UTF-8',
    );
  return unknownFault(thrown);
}

function unknownFault(cause: unknown): Problem {
  return new Problem('unknown_fault', 'The program met a fault of its own', "The program's log tells the cause", {
    cause,
  });
}

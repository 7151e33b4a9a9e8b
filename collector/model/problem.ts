/** One sentence of the table of things that can go wrong: stable code, HTTP status, title. */
export interface ProblemKind {
  readonly status: number;
  readonly title: string;
}

/**
 * The one error class that people see. `message` says what happened, to which input, with the value seen;
 * `hint` says what to do next; `code` is stable and listed in DEVELOPERS.md.
 */
export class Problem extends Error {
  readonly code: string;
  readonly hint: string;
  readonly details: Readonly<Record<string, unknown>>;

  constructor(
    code: string,
    message: string,
    hint: string,
    options: { cause?: unknown; details?: Readonly<Record<string, unknown>> } = {},
  ) {
    super(message, options.cause === undefined ? undefined : { cause: options.cause });
    this.name = 'Problem';
    this.code = code;
    this.hint = hint;
    this.details = options.details ?? {};
  }
}

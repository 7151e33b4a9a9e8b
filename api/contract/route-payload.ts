import type { z } from 'zod';

/** Bytes of a JSON body. */
export const JSON_BYTES_LIMIT = 64 * 1024;

/** What a route takes and gives. A body or response that isn't JSON is named by its media types. */
export interface RoutePayload {
  readonly params: z.ZodObject;
  readonly query: z.ZodObject;
  readonly body: z.ZodType | undefined;
  readonly bodyTypes?: readonly string[];
  /** undefined: no content (204). */
  readonly response: z.ZodType | undefined;
  readonly responseTypes?: readonly string[];
  /** What a response type that isn't JSON holds. */
  readonly responseForms?: Readonly<Record<string, string>>;
  readonly status: 200 | 201 | 204 | 101;
  /** Other statuses with the same answer, and what each says. */
  readonly alsoStatus?: Readonly<Record<number, string>>;
}

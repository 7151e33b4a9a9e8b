import type { Logger } from 'pino';

/** What parts need of the log: structured first, a sentence second. */
export type Log = Pick<Logger, 'debug' | 'info' | 'warn' | 'error'>;

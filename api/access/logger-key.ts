import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import type { Logger } from '../../collector/model/logger.ts';

/** Letters and digits that can't be mistaken for one another when a key is typed from paper (Crockford's base 32). */
const ALPHABET = '0123456789abcdefghjkmnpqrstvwxyz';
/** 26 characters of five bits: 130 bits of chance. */
const KEY_LENGTH = 26;

/** A new key for a logger. It is shown once; only its SHA-256 is kept. */
export function createLoggerKey(): string {
  return Array.from(randomBytes(KEY_LENGTH), (byte) => ALPHABET[byte & 31]).join('');
}

/** What is kept of a key, hex. A key of 130 random bits needs no slow hash. */
export function hashLoggerKey(key: string): string {
  return createHash('sha256').update(key, 'utf8').digest('hex');
}

/**
 * Tells the broker whether user name (the logger's id) and password (its key) belong together. Hidden loggers and
 * unknown ones are refused; the time taken doesn't tell which.
 */
export function loggerAuthenticator(settings: {
  logger(id: string): Promise<Logger | undefined>;
}): (loggerId: string, key: string) => Promise<boolean> {
  return async (loggerId, key) => {
    const logger = await settings.logger(loggerId);
    const given = createHash('sha256').update(key, 'utf8').digest();
    const kept = Buffer.from(logger?.keySha256 ?? '', 'hex');
    const known = kept.length === given.length;
    const same = timingSafeEqual(given, known ? kept : Buffer.alloc(given.length));
    return known && same && logger?.hiddenMs === undefined;
  };
}

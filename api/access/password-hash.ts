import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

/** What is kept of a password, all in the open but the password itself. */
export interface PasswordHash {
  readonly salt: string;
  readonly hash: string;
  readonly cost: number;
  readonly blockSize: number;
  readonly parallelization: number;
}

/** scrypt, RFC 7914. N = 2^15, r = 8, p = 3 takes 32 MiB; OWASP Password Storage Cheat Sheet, scrypt table (from memory). */
const COST = 2 ** 15;
const BLOCK_SIZE = 8;
const PARALLELIZATION = 3;
const HASH_BYTES = 32;
/** Twice the 128 · N · r bytes that the algorithm needs. */
const MEMORY_LIMIT_BYTES = 2 * 128 * COST * BLOCK_SIZE;

export async function hashPassword(password: string): Promise<PasswordHash> {
  const salt = randomBytes(16);
  const hash = await derive(password, salt, COST, BLOCK_SIZE, PARALLELIZATION);
  return {
    salt: salt.toString('base64'),
    hash: hash.toString('base64'),
    cost: COST,
    blockSize: BLOCK_SIZE,
    parallelization: PARALLELIZATION,
  };
}

export async function matchesPassword(password: string, kept: PasswordHash): Promise<boolean> {
  const expected = Buffer.from(kept.hash, 'base64');
  const given = await derive(
    password,
    Buffer.from(kept.salt, 'base64'),
    kept.cost,
    kept.blockSize,
    kept.parallelization,
  );
  return expected.length === given.length && timingSafeEqual(expected, given);
}

function derive(password: string, salt: Buffer, cost: number, blockSize: number, parallelization: number) {
  return new Promise<Buffer>((resolve, reject) => {
    // NFKC: the same password typed on two keyboards must be the same bytes.
    scrypt(
      password.normalize('NFKC'),
      salt,
      HASH_BYTES,
      { N: cost, r: blockSize, p: parallelization, maxmem: MEMORY_LIMIT_BYTES },
      (error, key) => (error ? reject(error) : resolve(key)),
    );
  });
}

import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import type { Clock } from '../../collector/model/clock.ts';
import { Problem } from '../../collector/model/problem.ts';
import { type AccessRecord, accessStamp, readAccess, writeAccess } from './access-file.ts';
import { createFailedAttempts } from './failed-attempts.ts';
import { matchesPassword } from './password-hash.ts';

/** A session ends after this long, used or not. */
export const SESSION_MS = 30 * 24 * 3600_000;
/** Sessions kept at once; beyond it the oldest ends. */
const SESSIONS_LIMIT = 50;
/** Passwords looked at at once: each takes some 32 MiB and a tenth of a second of a core. */
const CHECKS_LIMIT = 4;

/** Who is let in. One for a running server. */
export interface OwnerAccess {
  /** Whether a sign-in is asked for: not when the server listens on loopback only. */
  readonly required: boolean;
  accountExists(): boolean;
  /** Whether the request carries a session's token or the local commands' token. */
  isSignedIn(sessionToken: string | undefined, bearerToken: string | undefined): boolean;
  /**
   * Opens a session and returns its token.
   * @throws Problem `no_account`, `wrong_password`, `sign_in_slowed` (with `retryAfterS` in its details).
   */
  signIn(password: string, address: string): Promise<string>;
  signOut(sessionToken: string): void;
}

export function createOwnerAccess(needs: {
  folder: string;
  clock: Clock;
  /** True unless the server can be reached from this machine only. */
  required: boolean;
  /** Secret of the data folder's holder file; commands of the same user on this machine read it there. */
  commandToken: string | undefined;
}): OwnerAccess {
  const { folder, clock } = needs;
  const attempts = createFailedAttempts();
  let checks = 0;
  let stamp = '';
  let record: AccessRecord = { owner: null, sessions: [] };

  function current(): AccessRecord {
    const now = accessStamp(folder);
    if (now !== stamp) {
      record = readAccess(folder);
      stamp = now;
    }
    return record;
  }

  function keepSessions(sessions: AccessRecord['sessions']): void {
    const alive = sessions.filter((entry) => entry.expiresMs > clock.nowMs()).slice(-SESSIONS_LIMIT);
    writeAccess(folder, { owner: current().owner, sessions: alive });
  }

  return {
    required: needs.required,
    accountExists: () => current().owner !== null,
    isSignedIn(sessionToken, bearerToken) {
      if (bearerToken !== undefined && needs.commandToken !== undefined && sameToken(bearerToken, needs.commandToken))
        return true;
      if (sessionToken === undefined) return false;
      const digest = digestOf(sessionToken);
      return current().sessions.some((entry) => entry.sha256 === digest && entry.expiresMs > clock.nowMs());
    },
    async signIn(password, address) {
      const { owner } = current();
      if (owner === null)
        throw new Problem('no_account', "No owner's password is set", 'Run mainsdiary password on the machine itself');
      const waitMs = attempts.waitMs(address, clock.nowMs());
      if (waitMs > 0 || checks >= CHECKS_LIMIT) throw slowed(Math.max(1, Math.ceil(waitMs / 1000)));
      checks += 1;
      try {
        // Counted before the answer is known, so that guesses sent at the same time are slowed too.
        attempts.failed(address, clock.nowMs());
        if (!(await matchesPassword(password, owner)))
          throw new Problem(
            'wrong_password',
            'That is not the password',
            'Try again, or set a new one with mainsdiary password',
          );
      } finally {
        checks -= 1;
      }
      attempts.succeeded(address);
      const token = randomBytes(32).toString('base64url');
      keepSessions([...current().sessions, { sha256: digestOf(token), expiresMs: clock.nowMs() + SESSION_MS }]);
      return token;
    },
    signOut(sessionToken) {
      const digest = digestOf(sessionToken);
      keepSessions(current().sessions.filter((entry) => entry.sha256 !== digest));
    },
  };
}

function slowed(retryAfterS: number): Problem {
  return new Problem(
    'sign_in_slowed',
    `Too many wrong passwords: the next is looked at in ${retryAfterS} s`,
    'Wait, then try again',
    { details: { retryAfterS } },
  );
}

function digestOf(token: string): string {
  return createHash('sha256').update(token, 'utf8').digest('hex');
}

function sameToken(a: string, b: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text, 'utf8').digest();
  return timingSafeEqual(digest(a), digest(b));
}

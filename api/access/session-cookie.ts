import { SESSION_MS } from './owner-access.ts';

/** Under TLS the name's prefix makes browsers insist on Secure, Path=/ and no Domain. */
const PLAIN_NAME = 'mainsdiary_session';
const SECURE_NAME = '__Host-mainsdiary_session';

/** The session's token from a Cookie header. */
export function sessionTokenOf(cookieHeader: string | undefined, tls: boolean): string | undefined {
  const name = tls ? SECURE_NAME : PLAIN_NAME;
  for (const part of (cookieHeader ?? '').split(';')) {
    const [key, value] = part.split('=', 2);
    if (key?.trim() === name && value !== undefined && /^[A-Za-z0-9_-]{43}$/.test(value.trim())) return value.trim();
  }
  return undefined;
}

/** Value of a Set-Cookie header; undefined ends the session in the browser. */
export function sessionCookie(token: string | undefined, tls: boolean): string {
  const parts = [
    `${tls ? SECURE_NAME : PLAIN_NAME}=${token ?? ''}`,
    'HttpOnly',
    'SameSite=Strict',
    'Path=/',
    `Max-Age=${token === undefined ? 0 : Math.floor(SESSION_MS / 1000)}`,
  ];
  if (tls) parts.push('Secure');
  return parts.join('; ');
}

/** The token of an `authorization: Bearer …` header. */
export function bearerTokenOf(authorization: string | undefined): string | undefined {
  return /^Bearer ([A-Za-z0-9_.~+/=-]{16,512})$/i.exec(authorization ?? '')?.[1];
}

import type { OwnerAccess } from '../access/owner-access.ts';
import { bearerTokenOf, sessionCookie, sessionTokenOf } from '../access/session-cookie.ts';
import type { SessionResponse } from '../contract/payloads.ts';
import type { Handlers } from './handlers.ts';

export function sessionHandlers(needs: {
  access: OwnerAccess;
  tls: boolean;
}): Pick<Handlers, 'getSession' | 'signIn' | 'signOut'> {
  const { access, tls } = needs;
  const shown = (signedIn: boolean): SessionResponse => ({
    accountExists: access.accountExists(),
    signedIn,
    needsSignIn: access.required && !signedIn,
  });
  return {
    getSession: ({ request: { headers } }) =>
      shown(access.isSignedIn(sessionTokenOf(headers.cookie, tls), bearerTokenOf(headers.authorization))),
    async signIn({ body, request, response }) {
      const token = await access.signIn(body.password, request.socket.remoteAddress ?? '');
      response.setHeader('Set-Cookie', sessionCookie(token, tls));
      return shown(true);
    },
    signOut({ request, response }) {
      const token = sessionTokenOf(request.headers.cookie, tls);
      if (token !== undefined) access.signOut(token);
      response.setHeader('Set-Cookie', sessionCookie(undefined, tls));
      return undefined;
    },
  };
}

import { el } from '../parts/element.ts';
import type { PageView } from './page-view.ts';
import { createSignInForm } from './sign-in-form.ts';

/** Asks for the owner's password where the server is reachable from elsewhere. */
export function createSignInPage(onSignedIn: (address: string) => void, next: string): PageView {
  return {
    element: el(
      'div',
      {},
      el('h1', {}, 'Sign in'),
      createSignInForm(() => onSignedIn(next)),
    ),
    title: () => 'Sign in',
    stop: () => {},
  };
}

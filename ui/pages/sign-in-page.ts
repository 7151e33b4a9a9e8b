import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import type { PageView } from './page-view.ts';

/** Asks for the owner's password where the server is reachable from elsewhere. */
export function createSignInPage(onSignedIn: (address: string) => void, next: string): PageView {
  const password = el('input', { type: 'password', autocomplete: 'current-password', required: true });
  const problem = el('div');
  const button = el('button', { type: 'submit', class: 'main wide' }, 'Sign in');
  const form = el(
    'form',
    {
      submit: async (event) => {
        event.preventDefault();
        button.disabled = true;
        replace(problem);
        try {
          await call('signIn', { body: { password: password.value } });
          onSignedIn(next);
        } catch (error) {
          replace(problem, problemNote(error));
          password.select();
        } finally {
          button.disabled = false;
        }
      },
    },
    field(password, { label: 'The owner’s password', help: 'It was set on the machine with “mainsdiary password”.' }),
    problem,
    el('p', {}, button),
  );
  return {
    element: el('div', {}, el('h1', {}, 'Sign in'), form),
    title: () => 'Sign in',
    stop: () => {},
  };
}

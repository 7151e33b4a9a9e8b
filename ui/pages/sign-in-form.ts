import { call } from '../data/api-client.ts';
import { el } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { saveForm } from '../parts/form-report.ts';

/** The owner's password, on its page as over another. */
export function createSignInForm(onSignedIn: () => void): HTMLFormElement {
  const password = el('input', { type: 'password', autocomplete: 'current-password', required: true });
  return saveForm(
    {
      button: 'Sign in',
      main: true,
      read: () => ({ password: password.value }),
      send: (body) => call('signIn', { body }),
      done: () => {
        onSignedIn();
        return undefined;
      },
      controlAt: (place) => (/password$/.test(place) ? password : undefined),
    },
    field(password, { label: 'The owner’s password', help: 'It was set on the machine with “mainsdiary password”.' }),
  );
}

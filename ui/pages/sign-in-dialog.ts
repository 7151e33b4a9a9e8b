import { el } from '../parts/element.ts';
import { createSignInForm } from './sign-in-form.ts';

let asking: Promise<boolean> | undefined;

/**
 * Asks for the password over the page that stands, so that what was typed there stays. True once somebody is signed in;
 * false where it was left. However often it is called meanwhile, it asks once.
 */
export function signInOverPage(): Promise<boolean> {
  asking ??= new Promise<boolean>((resolve) => {
    let signedIn = false;
    const form = createSignInForm(() => {
      signedIn = true;
      dialog.close();
    });
    const dialog = el(
      'dialog',
      {
        'aria-labelledby': 'sign-in-again',
        close: () => {
          dialog.remove();
          asking = undefined;
          resolve(signedIn);
        },
      },
      el('h2', { id: 'sign-in-again' }, 'Your session has ended'),
      el('p', {}, 'Sign in again; what you typed on the page stays, and is sent then if you were saving it.'),
      form,
      el('p', {}, el('button', { type: 'button', class: 'wide', click: () => dialog.close() }, 'Leave it')),
    );
    document.body.append(dialog);
    dialog.showModal();
  });
  return asking;
}

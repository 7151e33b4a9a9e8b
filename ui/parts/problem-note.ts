import { ApiError } from '../data/api-client.ts';
import { el } from './element.ts';
import { errorWords } from './error-words.ts';

/** What happened and what to do, where it happened. `again` adds a button that tries once more. */
export function problemNote(error: unknown, again?: () => void): HTMLElement {
  const known = error instanceof ApiError ? error : undefined;
  const text = known?.message ?? 'Something went wrong on this page itself.';
  const hint = known ? known.hint : 'Load the page again. If it stays, the browser’s console says where.';
  if (!known) console.error(error);
  return el(
    'div',
    { class: 'problem', role: 'alert' },
    ...(known !== undefined && known.errors.length > 0
      ? [
          el('p', {}, 'It can’t be taken as it stands:'),
          el('ul', {}, ...known.errors.map((entry) => el('li', {}, withStop(errorWords(entry))))),
        ]
      : [el('p', {}, [text, hint].filter(Boolean).map(withStop).join(' '))]),
    again && el('p', {}, el('button', { type: 'button', click: () => again() }, 'Try again')),
  );
}

/** The server's sentences come without their full stops where they are also lines of a terminal. */
export function withStop(text: string): string {
  return /[.?]$/.test(text) ? text : `${text}.`;
}

import { call } from '../data/api-client.ts';
import { copyLine } from '../parts/copy-button.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';

/** A new key for a logger, shown once. */
export function createKeyRenewal(loggerId: string): HTMLElement {
  const result = el('div', {});
  return el(
    'details',
    {},
    el('summary', {}, 'Renew its key'),
    el(
      'p',
      {},
      'A new key is made and shown once; the old one ends at the same moment, so the device must be told the new one.',
    ),
    el(
      'p',
      {},
      el(
        'button',
        {
          type: 'button',
          class: 'wide',
          click: async () => {
            try {
              const { key } = await call('renewLoggerKey', { params: { id: loggerId } });
              replace(result, el('p', {}, 'The new key:'), copyLine(key, 'the key'));
            } catch (error) {
              replace(result, problemNote(error));
            }
          },
        },
        'Make a new key',
      ),
    ),
    result,
  );
}

import type { RefusalResource } from '../../api/contract/payloads.ts';
import { ago } from '../format.ts';
import { el, replace } from '../parts/element.ts';

const SHOWN_AT_ONCE = 10;

/** Messages that couldn't be read: when, why, and what they said (as text, never as markup). */
export function createRefusalList(): { element: HTMLElement; update(refusals: readonly RefusalResource[]): void } {
  const element = el('div', {});
  const row = (refusal: RefusalResource) =>
    el(
      'li',
      {},
      `${ago(Date.parse(refusal.time), Date.now())}, ${refusal.topic}: ${refusal.reason}`,
      refusal.excerpt !== '' && el('div', {}, el('code', {}, refusal.excerpt)),
    );
  return {
    element,
    update(refusals) {
      const newestFirst = [...refusals].sort((a, b) => Date.parse(b.time) - Date.parse(a.time));
      replace(
        element,
        el('ul', {}, ...newestFirst.slice(0, SHOWN_AT_ONCE).map(row)),
        newestFirst.length > SHOWN_AT_ONCE &&
          el(
            'details',
            {},
            el('summary', {}, `${newestFirst.length - SHOWN_AT_ONCE} older ones`),
            el('ul', {}, ...newestFirst.slice(SHOWN_AT_ONCE).map(row)),
          ),
      );
    },
  };
}

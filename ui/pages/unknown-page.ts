import { el } from '../parts/element.ts';
import type { PageView } from './page-view.ts';

export function createUnknownPage(path: string): PageView {
  return {
    element: el(
      'div',
      {},
      el('h1', {}, 'There is no such page'),
      el('p', {}, `Nothing stands at ${path}. It may have been erased, or the address is misspelt.`),
      el('p', {}, el('a', { class: 'action', href: '/' }, 'To the sites')),
    ),
    title: () => 'No such page',
    stop: () => {},
  };
}

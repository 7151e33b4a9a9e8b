import { addressOf, type Page } from '../view-state.ts';
import { el } from './element.ts';

/** The chapters of a site's diary, as links at its top. */
export function siteLinks(siteId: string, current: Page['name']): HTMLElement {
  const chapters: readonly [string, Page][] = [
    ['Diary', { name: 'site', siteId }],
    ['Chart', { name: 'chart', siteId }],
    ['Letter', { name: 'letter', siteId }],
    ['Loggers', { name: 'site-loggers', siteId }],
  ];
  return el(
    'nav',
    { class: 'chapters', 'aria-label': 'Chapters of this site' },
    ...chapters.map(([label, page]) =>
      el('a', { href: addressOf(page), 'aria-current': page.name === current ? 'page' : undefined }, label),
    ),
  );
}

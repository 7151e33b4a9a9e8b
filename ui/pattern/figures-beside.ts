import { el, replace, svg } from '../parts/element.ts';

/** What each mark means, with the mark beside it. */
export function legendOf(entries: readonly (readonly [words: string, ...marks: SVGElement[]])[]): HTMLElement {
  return el(
    'ul',
    { class: 'legend' },
    ...entries.map(([words, ...marks]) =>
      el(
        'li',
        {},
        svg(
          'svg',
          { class: 'strip figure', width: 28, height: 16, viewBox: '0 0 28 16', 'aria-hidden': 'true' },
          ...marks,
        ) as unknown as HTMLElement,
        words,
      ),
    ),
  );
}

/** A picture's figures as a table, one touch away; open stays open when they come anew. */
export function createFiguresBeside(summary: string): {
  element: HTMLElement;
  update(head: readonly string[], rows: readonly (readonly string[])[]): void;
} {
  const table = el('table', {});
  const element = el('details', {}, el('summary', {}, summary), el('div', { class: 'table' }, table));
  return {
    element,
    update(head, rows) {
      replace(
        table,
        el('thead', {}, el('tr', {}, ...head.map((text) => el('th', { scope: 'col' }, text)))),
        el(
          'tbody',
          {},
          ...rows.map(([first, ...rest]) =>
            el('tr', {}, el('th', { scope: 'row' }, first), ...rest.map((text) => el('td', {}, text))),
          ),
        ),
      );
    },
  };
}

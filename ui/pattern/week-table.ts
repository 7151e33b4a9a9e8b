import { WEEKDAY_NAMES } from '../../api/figures/pattern-words.ts';
import type { WeekCell, WeekFigure } from '../../api/figures/week-figure.ts';
import { bar, counted, figure as decimals } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { type WeekPlace, walk } from './week-walk.ts';

/** From here on 24 hours stand beside one another, each as wide as a thumb. */
const WIDE_PX = 1150;

export interface WeekTableView {
  readonly figure: WeekFigure;
  readonly caption: string;
  readonly width: number;
}

/**
 * The week as a table of text. One cell can be reached by Tab, the others from it by arrow keys or a touch; what a cell
 * stands on is said beneath the table, and read out with the cell.
 */
export function createWeekTable(): { element: HTMLElement; update(view: WeekTableView): void } {
  const table = el('table', { class: 'week' });
  const readout = el('p', { class: 'week-readout' });
  const legend = el('ul', { class: 'legend' });
  const element = el('div', {}, table, readout, legend);
  let chosen: WeekPlace | undefined;
  let shown: WeekTableView | undefined;
  let cells = new Map<string, HTMLElement>();

  const across = () => (shown && shown.width >= WIDE_PX ? 'hours' : 'days');

  function choose(place: WeekPlace, focus: boolean): void {
    if (chosen) cells.get(keyOf(chosen))?.setAttribute('tabindex', '-1');
    chosen = place;
    const cell = cells.get(keyOf(place));
    cell?.setAttribute('tabindex', '0');
    if (focus) cell?.focus();
    readout.textContent = cellWords(place, shown?.figure.days[place.day]?.[place.hour]);
  }

  table.addEventListener('keydown', (event) => {
    if (!chosen || event.ctrlKey || event.metaKey || event.altKey) return;
    const next = walk(event.key, chosen, across());
    if (!next) return;
    event.preventDefault();
    choose(next, true);
  });

  return {
    element,
    update(view) {
      const same = shown?.figure === view.figure && shown.width >= WIDE_PX === view.width >= WIDE_PX;
      shown = view;
      if (same) return;
      const held = table.contains(document.activeElement);
      cells = new Map();
      const cellAt = (day: number, hour: number) => {
        const place = { day, hour };
        const cell = cellElement(view.figure.days[day]![hour]);
        cell.addEventListener('click', () => choose(place, true));
        cell.addEventListener('focus', () => choose(place, false));
        cells.set(keyOf(place), cell);
        return cell;
      };
      replace(table, el('caption', {}, view.caption), ...(across() === 'hours' ? daysDown(cellAt) : hoursDown(cellAt)));
      replace(legend, ...legendEntries(view.figure));
      choose(chosen ?? lowestPlace(view.figure), held);
    },
  };
}

type CellAt = (day: number, hour: number) => HTMLElement;
const HOURS = Array.from({ length: 24 }, (_, hour) => hour);
const twoDigits = (hour: number) => String(hour).padStart(2, '0');

function hoursDown(cellAt: CellAt): HTMLElement[] {
  const days = WEEKDAY_NAMES.map((name) => el('th', { scope: 'col', abbr: name }, name.slice(0, 3)));
  return [
    el('thead', {}, el('tr', {}, el('th', { scope: 'col' }, 'Hour'), ...days)),
    el(
      'tbody',
      {},
      ...HOURS.map((hour) =>
        el('tr', {}, el('th', { scope: 'row' }, twoDigits(hour)), ...WEEKDAY_NAMES.map((_, day) => cellAt(day, hour))),
      ),
    ),
  ];
}

function daysDown(cellAt: CellAt): HTMLElement[] {
  return [
    el(
      'thead',
      {},
      el(
        'tr',
        {},
        el('th', { scope: 'col' }, 'Day'),
        ...HOURS.map((hour) => el('th', { scope: 'col' }, twoDigits(hour))),
      ),
    ),
    el(
      'tbody',
      {},
      ...WEEKDAY_NAMES.map((name, day) =>
        el('tr', {}, el('th', { scope: 'row' }, name.slice(0, 3)), ...HOURS.map((hour) => cellAt(day, hour))),
      ),
    ),
  ];
}

function cellElement(cell: WeekCell | undefined): HTMLElement {
  if (!cell) return el('td', { tabindex: -1 }, '–', el('span', { class: 'unseen' }, ' not known'));
  return el(
    'td',
    { tabindex: -1, class: `shade-${cell.shade}` },
    el('span', { class: cell.below ? `below ${cell.below}` : 'above' }, decimals(cell.medianBar, 2)),
    el('span', { class: 'unseen' }, ` bar, ${standsOn(cell)}`),
  );
}

function cellWords({ day, hour }: WeekPlace, cell: WeekCell | undefined): string {
  const when = `${WEEKDAY_NAMES[day]}, ${twoDigits(hour)}:00 to ${hour === 23 ? '24' : twoDigits(hour + 1)}:00`;
  return cell ? `${when}: median ${bar(cell.medianBar)}, ${standsOn(cell)}.` : `${when}: not known.`;
}

function standsOn({ below, lowBar, minutes, days }: WeekCell): string {
  const usually = below === 'usually' ? 'below the threshold; ' : '';
  const atTimes = below === 'at_times' ? ', and that is below the threshold' : '';
  return `${usually}a tenth of the time under ${bar(lowBar)}${atTimes}; ${counted(minutes, 'minute')} on ${counted(days, 'day')}`;
}

function legendEntries(figure: WeekFigure): HTMLElement[] {
  const marked = new Set(figure.days.flat().map((cell) => cell?.below));
  return [
    ...figure.shades.map(({ shade, fromBar, toBar }) =>
      el(
        'li',
        {},
        el('span', { class: `swatch shade-${shade}`, 'aria-hidden': 'true' }),
        `${fromBar} to ${toBar}\u00a0bar`,
      ),
    ),
    ...(marked.has('usually')
      ? [
          el(
            'li',
            {},
            el('span', { class: 'below usually', 'aria-hidden': 'true' }, '0.0'),
            'the median is below the threshold',
          ),
        ]
      : []),
    ...(marked.has('at_times')
      ? [
          el(
            'li',
            {},
            el('span', { class: 'below at_times', 'aria-hidden': 'true' }, '0.0'),
            'a tenth of the time or more is below it',
          ),
        ]
      : []),
  ];
}

/** What is looked at first: the hour with the lowest median. */
function lowestPlace(figure: WeekFigure): WeekPlace {
  let lowest: WeekCell | undefined;
  for (const cell of figure.days.flat()) if (cell && (!lowest || cell.medianBar < lowest.medianBar)) lowest = cell;
  return { day: (lowest?.weekday ?? 1) - 1, hour: lowest?.hour ?? 0 };
}

function keyOf({ day, hour }: WeekPlace): string {
  return `${day}:${hour}`;
}

import type { SeriesResponse, SiteFindings } from '../../api/contract/payloads.ts';
import { dateInWords } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import type { SiteTime } from '../site-time.ts';
import { addressOf } from '../view-state.ts';
import type { DayEntry } from './day-entries.ts';
import { createDayStrip } from './day-strip.ts';
import { clockChangeWords, dayWords } from './day-words.ts';
import { dayStrip } from './strip-data.ts';

export interface DayListView {
  readonly siteId: string;
  readonly findings: SiteFindings;
  /** Newest first; only those that are to be shown. */
  readonly entries: readonly DayEntry[];
  /** The raw band's source by date; a day whose readings are still being fetched has none. */
  readonly seriesOf: (date: string) => SeriesResponse | undefined;
  readonly scaleBar: number;
  readonly time: SiteTime;
  readonly width: number;
}

/** The days, newest first: date, sentences, strip. All strips stand exactly under one another on one scale. */
export function createDayList(): { element: HTMLElement; update(view: DayListView): void } {
  const days = el('div', {});
  const caption = el('p', { class: 'quiet' });
  const hours = el(
    'div',
    { class: 'hours', 'aria-hidden': 'true' },
    ...['00', '06', '12', '18', '24'].map((hour) => el('span', {}, hour)),
  );
  const element = el(
    'section',
    { 'aria-labelledby': 'days' },
    el('h2', { id: 'days' }, 'The days'),
    caption,
    hours,
    days,
  );
  return {
    element,
    update(view) {
      const marks = view.findings.standing
        ? 'Strong line: standing pressure. Grey: the readings. Ticks along the foot: own draws. Hatched: low supply, wide hatching where it is only possible.'
        : 'Strong line: mean reading. Grey: the readings. Ticks along the head: the pump’s runs.';
      caption.textContent = `Every strip runs from 00 to 24 o’clock (${view.time.timeZone}) and from 0 to ${view.scaleBar} bar. ${marks}`;
      const focused = days.contains(document.activeElement) ? document.activeElement?.getAttribute('href') : undefined;
      replace(days, ...view.entries.map((entry) => dayElement(entry, view)));
      // Whoever reads along with the keyboard stays where they are when the days are told anew.
      if (focused)
        for (const link of days.querySelectorAll('a'))
          if (link.getAttribute('href') === focused) link.focus({ preventScroll: true });
    },
  };
}

function dayElement(entry: DayEntry, view: DayListView): HTMLElement {
  const { findings, time } = view;
  const sentences = dayWords(entry, findings.series.position, time);
  const change = clockChangeWords(entry, time);
  const address = addressOf({
    name: 'chart',
    siteId: view.siteId,
    loggerId: undefined,
    span: { fromMs: entry.day.startMs, toMs: entry.day.endMs },
  });
  const heading = el('h3', {}, el('a', { href: address }, dateInWords(entry.day.date)));
  if (entry.quiet)
    return el(
      'article',
      { class: 'day quiet-day' },
      heading,
      el('p', {}, [...sentences, change].filter(Boolean).join(' ')),
    );
  const strip = createDayStrip();
  strip.update({
    strip: dayStrip(entry, findings, view.seriesOf(entry.day.date), time),
    scaleBar: view.scaleBar,
    thresholdBar: findings.series.position === 'pump_outlet' ? undefined : findings.thresholds.lowSupplyBar,
    width: view.width,
    description: `${dateInWords(entry.day.date)}, 00 to 24 o’clock. ${sentences.join(' ')}`,
  });
  return el(
    'article',
    { class: 'day' },
    heading,
    el('p', {}, [...sentences, change].filter(Boolean).join(' ')),
    strip.element as unknown as HTMLElement,
  );
}

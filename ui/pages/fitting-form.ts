import type { SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { dateAndClock } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import { createSiteTime, type SiteTime } from '../site-time.ts';
import { timeText } from '../view-state.ts';

type Readings = NonNullable<SiteResource['outletReadings']>;

/** When something was fitted, and what the outlets gave before and after. Closed until touched. */
export function createFittingForm(site: SiteResource, onSaved: () => void): HTMLElement {
  const siteTime = createSiteTime(site.timeZone);
  const readings: Readings = site.outletReadings ?? [];
  const fittedAt = site.fitted ? siteTime.parts(Date.parse(site.fitted)) : undefined;
  const now = siteTime.parts(Date.now());
  const fittedDate = el('input', { type: 'date', value: fittedAt?.date ?? '' });
  const fittedClock = el('input', { type: 'time', value: fittedAt ? clockValue(fittedAt) : '12:00' });
  const outlet = el('input', { type: 'text', maxlength: 120 });
  const readDate = el('input', { type: 'date', value: now.date });
  const readClock = el('input', { type: 'time', value: clockValue(now) });
  const flow = numberInput();
  const pressure = numberInput();
  const problem = el('div');

  const instant = (date: HTMLInputElement, at: HTMLInputElement): string | undefined => {
    const [hour, minute] = at.value.split(':').map(Number);
    return date.value === '' || hour === undefined || minute === undefined
      ? undefined
      : timeText(siteTime.instantOf(date.value, hour, minute));
  };
  const send = async (body: { fitted?: string | null; outletReadings?: Readings }) => {
    replace(problem);
    try {
      await call('updateSite', { params: { id: site.id }, body });
      onSaved();
    } catch (error) {
      replace(problem, problemNote(error));
    }
  };
  const saveFitted = (event: Event) => {
    event.preventDefault();
    void send({ fitted: instant(fittedDate, fittedClock) ?? null });
  };
  const addReading = (event: Event) => {
    event.preventDefault();
    const at = instant(readDate, readClock);
    const [flowLpm, pressureBar] = [readNumber(flow), readNumber(pressure)];
    const unread = [flow, pressure].find((input) => input.value.trim() !== '' && readNumber(input) === undefined);
    if (
      outlet.value.trim() === '' ||
      at === undefined ||
      unread ||
      (flowLpm === undefined && pressureBar === undefined)
    ) {
      const text = unread
        ? `“${unread.value}” is no number.`
        : 'A reading needs the outlet’s name, its date and time, and a flow or a pressure.';
      replace(problem, el('p', { class: 'problem', role: 'alert' }, text));
      return;
    }
    const reading = {
      outlet: outlet.value.trim(),
      time: at,
      ...(flowLpm === undefined ? {} : { flowLpm }),
      ...(pressureBar === undefined ? {} : { pressureBar }),
    };
    void send({ outletReadings: [...readings, reading] });
  };
  const remove = (place: number) => () => void send({ outletReadings: readings.filter((_, k) => k !== place) });

  return el(
    'details',
    {},
    el('summary', {}, 'Before and after a fitting'),
    el(
      'p',
      { class: 'quiet' },
      'Read every outlet before the work and after it, the same way, each alone. The diary then says whether it worked.',
    ),
    el(
      'form',
      { submit: saveFitted },
      el(
        'div',
        { class: 'fields' },
        field(fittedDate, { label: 'Fitted on', help: 'Empty: not fitted, or the log shows it.' }),
        field(fittedClock, { label: 'at' }),
      ),
      el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Save the date')),
    ),
    readings.length > 0 &&
      el(
        'ul',
        {},
        ...readings.map((reading, place) =>
          el(
            'li',
            {},
            `${readingWords(reading, siteTime)} `,
            el(
              'button',
              { type: 'button', 'aria-label': `Remove the reading of ${reading.outlet}`, click: remove(place) },
              'Remove',
            ),
          ),
        ),
      ),
    el(
      'form',
      { submit: addReading },
      field(outlet, { label: 'Outlet', help: 'For example kitchen tap. The same name before and after.' }),
      el('div', { class: 'fields' }, field(readDate, { label: 'Read on' }), field(readClock, { label: 'at' })),
      el(
        'div',
        { class: 'fields' },
        field(flow, { label: 'Flow, l/min', help: 'Litres in a bucket in a minute.' }),
        field(pressure, { label: 'Pressure while it runs, bar', help: 'Either or both of the two.' }),
      ),
      problem,
      el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Add the reading')),
    ),
  );
}

function clockValue({ hour, minute }: { readonly hour: number; readonly minute: number }): string {
  return `${String(hour).padStart(2, '0')}:${String(minute).padStart(2, '0')}`;
}

function readingWords({ outlet, time, flowLpm, pressureBar }: Readings[number], siteTime: SiteTime): string {
  const values = [
    ...(flowLpm === undefined ? [] : [`${flowLpm} l/min`]),
    ...(pressureBar === undefined ? [] : [`${pressureBar} bar`]),
  ];
  return `${outlet}, ${dateAndClock(Date.parse(time), siteTime)}: ${values.join(', ')}`;
}

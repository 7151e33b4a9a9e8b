import type { SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { dateAndClock } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import {
  anyTouched,
  controlsByName,
  createFormReport,
  Fault,
  NOTHING_CHANGED,
  saveForm,
} from '../parts/form-report.ts';
import { showSaved } from '../parts/kept-value.ts';
import { createSiteTime, type SiteTime } from '../site-time.ts';
import { timeText } from '../view-state.ts';
import type { SiteForm } from './site-settings.ts';

type Reading = NonNullable<SiteResource['outletReadings']>[number];

/** No sample is older; a year typed short is. */
const EARLIEST_MS = Date.UTC(2000, 0, 1);

/** When something was fitted, and what the outlets gave before and after. Closed until touched. */
export function createFittingForm(first: SiteResource, onSaved: (site: SiteResource) => void): SiteForm {
  const id = first.id;
  let siteTime = createSiteTime(first.timeZone);
  let readings: readonly Reading[] = [];
  const now = siteTime.parts(Date.now());
  const fittedDate = el('input', { type: 'date' });
  const fittedClock = el('input', { type: 'time' });
  const outlet = el('input', { type: 'text', maxlength: 120 });
  const readDate = el('input', { type: 'date', value: now.date });
  const readClock = el('input', { type: 'time', value: clockValue(now) });
  const flow = numberInput();
  const pressure = numberInput();
  const list = el('ul', { class: 'removable' });

  /** A moment by the site's clock that can have been. */
  function instant(date: HTMLInputElement, at: HTMLInputElement): string | Fault {
    const [hour, minute] = at.value.split(':').map(Number);
    if (date.value === '') return new Fault('Enter the date.', date);
    if (hour === undefined || minute === undefined) return new Fault('Enter the time of day.', at);
    const atMs = siteTime.instantOf(date.value, hour, minute);
    if (!(atMs >= EARLIEST_MS)) return new Fault(`“${date.value}” lies before 2000. Enter the day it was.`, date);
    if (atMs > Date.now()) return new Fault(`${dateAndClock(atMs, siteTime)} is still to come.`, date);
    return timeText(atMs);
  }

  function readFitted(): string | null | Fault {
    if (!anyTouched(fittedDate, fittedClock)) return new Fault(NOTHING_CHANGED);
    return fittedDate.value === '' ? null : instant(fittedDate, fittedClock);
  }

  function readReading(): Reading | Fault {
    const named = outlet.value.trim();
    if (named === '') return new Fault('Name the outlet, for example kitchen tap.', outlet);
    const time = instant(readDate, readClock);
    if (time instanceof Fault) return time;
    const unread = [flow, pressure].find((input) => input.value.trim() !== '' && readNumber(input) === undefined);
    if (unread) return new Fault(`“${unread.value}” is no number. Enter one, for example 7.5.`, unread);
    const [flowLpm, pressureBar] = [readNumber(flow), readNumber(pressure)];
    if (flowLpm === undefined && pressureBar === undefined)
      return new Fault('A reading needs a flow or a pressure; both are better.', flow);
    return {
      outlet: named,
      time,
      ...(flowLpm === undefined ? {} : { flowLpm }),
      ...(pressureBar === undefined ? {} : { pressureBar }),
    };
  }

  /**
   * A request replaces the list, so what another page saved meanwhile is fetched first; a reading that is in it already
   * (its answer was lost on the way) isn't added twice.
   */
  async function changeList(change: (saved: readonly Reading[]) => readonly Reading[]): Promise<SiteResource> {
    const saved = (await call('getSite', { params: { id } })).outletReadings ?? [];
    return call('updateSite', { params: { id }, body: { outletReadings: [...change(saved)] } });
  }

  const removal = createFormReport();
  const remove = (reading: Reading, at: number) =>
    void removal.attempt(
      () =>
        changeList((saved) => {
          const gone = saved.findIndex((other) => isSame(other, reading));
          return saved.filter((_, place) => place !== gone);
        }),
      (site) => {
        saved(site);
        const buttons = list.querySelectorAll('button');
        (buttons[Math.min(at, buttons.length - 1)] ?? outlet).focus();
        return `Removed: ${reading.outlet}.`;
      },
    );

  function saved(site: SiteResource): void {
    update(site);
    onSaved(site);
  }

  function update(site: SiteResource): void {
    const sameZone = siteTime.timeZone === site.timeZone;
    siteTime = createSiteTime(site.timeZone);
    const fittedAt = site.fitted ? siteTime.parts(Date.parse(site.fitted)) : undefined;
    showSaved(fittedDate, fittedAt?.date ?? '');
    showSaved(fittedClock, fittedAt ? clockValue(fittedAt) : '12:00');
    const next = site.outletReadings ?? [];
    const same =
      sameZone && next.length === readings.length && next.every((reading, at) => isSame(reading, readings[at]!));
    readings = next;
    list.hidden = readings.length === 0;
    // Drawn anew only when it differs, so that nobody's place in it is lost.
    if (!same) replace(list, ...readings.map(readingLine));
  }

  function readingLine(reading: Reading, at: number): HTMLElement {
    const label = `Remove the reading of ${reading.outlet}, ${dateAndClock(Date.parse(reading.time), siteTime)}`;
    return el(
      'li',
      {},
      el('span', {}, readingWords(reading, siteTime)),
      el('button', { type: 'button', 'aria-label': label, click: () => remove(reading, at) }, 'Remove'),
    );
  }
  update(first);

  const fittedForm = saveForm(
    {
      button: 'Save the date',
      read: () => {
        const fitted = readFitted();
        return fitted instanceof Fault ? fitted : { fitted };
      },
      send: (body) => call('updateSite', { params: { id }, body }),
      done: (site) => {
        saved(site);
        return site.fitted ? 'Saved.' : 'Saved: no date.';
      },
      controlAt: (place) => (/fitted$/.test(place) ? fittedDate : undefined),
    },
    el(
      'div',
      { class: 'fields' },
      field(fittedDate, { label: 'Fitted on', help: 'Empty: not fitted, or the log shows it.' }),
      field(fittedClock, { label: 'at', help: 'By the site’s clock.' }),
    ),
  );
  const readingForm = saveForm(
    {
      button: 'Add the reading',
      read: readReading,
      send: (reading) =>
        changeList((before) => (before.some((other) => isSame(other, reading)) ? before : [...before, reading])),
      done: (site) => {
        const added = outlet.value.trim();
        for (const input of [outlet, flow, pressure]) showSaved(input, '');
        saved(site);
        return `Added: ${added}.`;
      },
      controlAt: controlsByName({ outlet, pressureBar: pressure, flowLpm: flow }),
    },
    field(outlet, { label: 'Outlet', help: 'For example kitchen tap. The same name before and after.' }),
    el('div', { class: 'fields' }, field(readDate, { label: 'Read on' }), field(readClock, { label: 'at' })),
    el(
      'div',
      { class: 'fields' },
      field(flow, { label: 'Flow, l/min', help: 'Litres in a bucket in a minute.' }),
      field(pressure, { label: 'Pressure while it runs, bar', help: 'Either or both of the two.' }),
    ),
  );
  return {
    element: el(
      'details',
      {},
      el('summary', {}, 'Before and after a fitting'),
      el(
        'p',
        { class: 'quiet' },
        'Read every outlet before the work and after it, the same way, each alone. The diary then says whether it worked.',
      ),
      fittedForm,
      el('h3', {}, 'What the outlets gave'),
      list,
      removal.element,
      readingForm,
    ),
    update,
  };
}

function isSame(one: Reading, other: Reading): boolean {
  return (
    one.outlet === other.outlet &&
    Date.parse(one.time) === Date.parse(other.time) &&
    one.flowLpm === other.flowLpm &&
    one.pressureBar === other.pressureBar
  );
}

function clockValue({ hour, minute }: { readonly hour: number; readonly minute: number }): string {
  return `${String(hour).padStart(2, '0')}:${String(minute).padStart(2, '0')}`;
}

function readingWords({ outlet, time, flowLpm, pressureBar }: Reading, siteTime: SiteTime): string {
  const values = [
    ...(flowLpm === undefined ? [] : [`${flowLpm} l/min`]),
    ...(pressureBar === undefined ? [] : [`${pressureBar} bar`]),
  ];
  return `${outlet}, ${dateAndClock(Date.parse(time), siteTime)}: ${values.join(', ')}`;
}

import type { SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';

/** What the owner knows of the pump: hours, the motor's limit and where it stands, litres. Closed until touched. */
export function createPumpForm(site: SiteResource, onSaved: () => void): HTMLElement {
  const pump = site.pump ?? {};
  const from = numberInput(pump.allowedHours?.[0] ?? '');
  const to = numberInput(pump.allowedHours?.[1] ?? '');
  const most = numberInput(pump.mostStartsPerHour ?? '');
  const source = el('input', { type: 'text', maxlength: 120, value: pump.startsLimitSource ?? '' });
  const usable = numberInput(pump.usableLitres ?? '');
  const volume = numberInput(pump.vessel?.volumeL ?? '');
  const preCharge = numberInput(pump.vessel?.preChargeBar ?? '');
  const problem = el('div');

  const save = async (event: Event) => {
    event.preventDefault();
    const wrong = [from, to, most, usable, volume, preCharge].find(
      (input) => input.value.trim() !== '' && readNumber(input) === undefined,
    );
    const halfGiven = [
      [from, to],
      [volume, preCharge],
    ].some(([one, other]) => (one!.value.trim() === '') !== (other!.value.trim() === ''));
    if (wrong || halfGiven) {
      const text = wrong
        ? `“${wrong.value}” is no number. Enter a number, or leave it empty.`
        : 'Hours go in pairs, and so do the vessel’s size and pre-charge: enter both or neither.';
      replace(problem, el('p', { class: 'problem', role: 'alert' }, text));
      wrong?.focus();
      return;
    }
    const [fromHour, toHour] = [readNumber(from), readNumber(to)];
    const [volumeL, preChargeBar] = [readNumber(volume), readNumber(preCharge)];
    const limit = readNumber(most);
    const litres = readNumber(usable);
    // The curve, where one was given over the API, stays as it is.
    const given = {
      ...(pump.curve === undefined ? {} : { curve: pump.curve }),
      ...(fromHour === undefined || toHour === undefined
        ? {}
        : { allowedHours: [fromHour, toHour] as [number, number] }),
      ...(limit === undefined ? {} : { mostStartsPerHour: limit }),
      ...(source.value.trim() === '' ? {} : { startsLimitSource: source.value.trim() }),
      ...(litres === undefined ? {} : { usableLitres: litres }),
      ...(volumeL === undefined || preChargeBar === undefined ? {} : { vessel: { volumeL, preChargeBar } }),
    };
    replace(problem);
    try {
      const body = { pump: Object.keys(given).length === 0 ? null : given };
      await call('updateSite', { params: { id: site.id }, body });
      onSaved();
    } catch (error) {
      replace(problem, problemNote(error));
    }
  };

  return el(
    'details',
    {},
    el('summary', {}, 'The pump'),
    el(
      'form',
      { submit: (event) => void save(event) },
      el('p', { class: 'quiet' }, 'Leave empty what you don’t know: nothing is assumed.'),
      el(
        'div',
        { class: 'fields' },
        field(from, { label: 'May start from, hour', help: 'For example 6. By the site’s clock.' }),
        field(to, { label: 'until, hour', help: 'For example 22.' }),
      ),
      el(
        'div',
        { class: 'fields' },
        field(most, { label: 'Most starts in an hour', help: 'The motor’s limit; often 20 to 60 for small sets.' }),
        field(source, { label: 'Where that stands', help: 'For example: nameplate.' }),
      ),
      field(usable, {
        label: 'Litres between stop and start',
        help: 'Switch the pump off just after it stopped, let water into a bucket until the pressure is where it starts, read the litres. Keep hands and water away from anything electric.',
      }),
      el(
        'div',
        { class: 'fields' },
        field(volume, { label: 'Vessel’s size, litres', help: 'From its plate.' }),
        field(preCharge, { label: 'Its pre-charge, bar', help: 'Measured with the water side drained.' }),
      ),
      problem,
      el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Save what is known of the pump')),
    ),
  );
}

import type { SiteResource } from '../../api/contract/payloads.ts';
import { NEMA_SOURCE, STARTS_LIMIT_SCOPE, startsLimitExamples } from '../../collector/model/starts-limit.ts';
import { call } from '../data/api-client.ts';
import { el } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { anyTouched, controlsByName, Fault, NOTHING_CHANGED, saveForm } from '../parts/form-report.ts';
import { isTouched, showSaved } from '../parts/kept-value.ts';
import { createCurveRows } from './curve-rows.ts';
import type { SiteForm } from './site-settings.ts';

type Pump = NonNullable<SiteResource['pump']>;
/** What was changed here; undefined takes it back. */
type Changes = { [K in keyof Pump]?: Pump[K] | undefined };

/** What the owner knows of the pump: hours, the motor's limit and where it stands, litres, curve. Closed until touched. */
export function createPumpForm(first: SiteResource, onSaved: (site: SiteResource) => void): SiteForm {
  const id = first.id;
  const from = numberInput();
  const to = numberInput();
  const most = numberInput();
  const source = el('input', { type: 'text', maxlength: 120 });
  const usable = numberInput();
  const volume = numberInput();
  const preCharge = numberInput();
  const curve = createCurveRows();
  const named = controlsByName({
    allowedHours: from,
    mostStartsPerHour: most,
    startsLimitSource: source,
    usableLitres: usable,
    volumeL: volume,
    preChargeBar: preCharge,
  });

  function changes(): Changes | Fault {
    const wrong = [from, to, most, usable, volume, preCharge].find(
      (input) => input.value.trim() !== '' && readNumber(input) === undefined,
    );
    if (wrong) return new Fault(`“${wrong.value}” is no number. Enter a number, or leave it empty.`, wrong);
    const half = missingHalf(from, to);
    if (half) return new Fault('Hours go in pairs: enter both, or neither.', half);
    const halfVessel = missingHalf(volume, preCharge);
    if (halfVessel)
      return new Fault('The vessel needs its size and its pre-charge: enter both, or neither.', halfVessel);
    const points = curve.read();
    if (points instanceof Fault) return points;
    const [fromHour, toHour] = [readNumber(from), readNumber(to)];
    const [volumeL, preChargeBar] = [readNumber(volume), readNumber(preCharge)];
    const changed: Changes = {
      ...(anyTouched(from, to) && {
        allowedHours: fromHour === undefined || toHour === undefined ? undefined : [fromHour, toHour],
      }),
      ...(isTouched(most) && { mostStartsPerHour: readNumber(most) }),
      ...(isTouched(source) && { startsLimitSource: source.value.trim() || undefined }),
      ...(isTouched(usable) && { usableLitres: readNumber(usable) }),
      ...(anyTouched(volume, preCharge) && {
        vessel: volumeL === undefined || preChargeBar === undefined ? undefined : { volumeL, preChargeBar },
      }),
      ...(curve.touched() && { curve: points && [...points] }),
    };
    return Object.keys(changed).length === 0 ? new Fault(NOTHING_CHANGED) : changed;
  }

  /** A request replaces all that is known of the pump, so what another page saved meanwhile is fetched first. */
  async function send(changed: Changes): Promise<SiteResource> {
    const { pump } = await call('getSite', { params: { id } });
    const known = Object.entries({ ...pump, ...changed }).filter(([, value]) => value !== undefined);
    const body = { pump: known.length === 0 ? null : (Object.fromEntries(known) as Pump) };
    return call('updateSite', { params: { id }, body });
  }

  function update({ pump }: SiteResource, ours = false): void {
    showSaved(from, text(pump?.allowedHours?.[0]));
    showSaved(to, text(pump?.allowedHours?.[1]));
    showSaved(most, text(pump?.mostStartsPerHour));
    showSaved(source, pump?.startsLimitSource ?? '');
    showSaved(usable, text(pump?.usableLitres));
    showSaved(volume, text(pump?.vessel?.volumeL));
    showSaved(preCharge, text(pump?.vessel?.preChargeBar));
    curve.update(pump?.curve, ours);
  }
  update(first);

  const form = saveForm(
    {
      button: 'Save what is known of the pump',
      read: changes,
      send,
      done: (site) => {
        update(site, true);
        onSaved(site);
        return 'Saved.';
      },
      controlAt: (place) => curve.controlAt(place) ?? (/allowedHours\.1$/.test(place) ? to : named(place)),
    },
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
      field(most, { label: 'Most starts in an hour', help: 'The motor’s limit. None is assumed.' }),
      field(source, { label: 'Where that stands', help: 'For example: nameplate.' }),
    ),
    startsLimitNote(),
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
    curve.element,
  );
  return { element: el('details', {}, el('summary', {}, 'The pump'), form), update };
}

/** What such limits are like, with where each stands; nothing of it is taken over. */
function startsLimitNote(): HTMLElement {
  return el(
    'p',
    { class: 'help' },
    `For example ${NEMA_SOURCE}, starts an hour: ${startsLimitExamples()}. ${STARTS_LIMIT_SCOPE}`,
  );
}

/** The one of a pair that was left empty while the other was not. */
function missingHalf(one: HTMLInputElement, other: HTMLInputElement): HTMLInputElement | undefined {
  const [isEmpty, otherIsEmpty] = [one.value.trim() === '', other.value.trim() === ''];
  return isEmpty === otherIsEmpty ? undefined : isEmpty ? one : other;
}

function text(value: number | undefined): string {
  return value === undefined ? '' : String(value);
}

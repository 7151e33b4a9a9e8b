import type { BodyOf, SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { controlsByName, createFormReport, Fault, NOTHING_CHANGED, saveForm } from '../parts/form-report.ts';
import { isTouched, showSaved } from '../parts/kept-value.ts';
import { lossWords, readKeepDays } from './keep-days.ts';
import { ZONE_HELP, zoneSelect } from './new-site-form.ts';

export interface SiteForm {
  readonly element: HTMLElement;
  /** Shows what is saved now, here or elsewhere; what is being typed stays. */
  update(site: SiteResource): void;
}

/** Name, time zone and thresholds of a site, and hiding it. Closed until touched. */
export function createSiteSettings(
  first: SiteResource,
  intents: { onSaved(site: SiteResource): void; onHidden(): void },
): SiteForm {
  let site = first;
  const name = el('input', { type: 'text', maxlength: 120, required: true });
  const zone = zoneSelect(site.timeZone);
  const thresholds = {
    lowSupplyBar: numberInput(),
    sagMinDepthBar: numberInput(),
    weakInletBar: numberInput(),
  };
  const keepDays = numberInput();
  const loss = el('p', { role: 'status' });

  const form = saveForm(
    {
      button: 'Save',
      read: () => changes(),
      send: (body) => call('updateSite', { params: { id: site.id }, body }),
      done: (saved) => {
        intents.onSaved(saved);
        return 'Saved.';
      },
      controlAt: controlsByName({ name, timeZone: zone, ...thresholds, keepRawDays: keepDays }),
    },
    field(name, { label: 'Name' }),
    field(zone, { label: 'Time zone', help: ZONE_HELP }),
    el(
      'div',
      { class: 'fields' },
      field(thresholds.lowSupplyBar, { label: 'Low supply below, bar', help: '0.7 bar is some 7 m of water.' }),
      field(thresholds.sagMinDepthBar, { label: 'A sag is at least, bar', help: 'Fall below the night’s level.' }),
      field(thresholds.weakInletBar, { label: 'Weak inlet below, bar', help: 'Before a pump, while it runs.' }),
    ),
    field(keepDays, {
      label: 'Keep single readings for, days',
      help: 'Empty: for good. Otherwise older ones are erased from the disk and can’t be had back. The lowest, highest and mean of each minute stay and are drawn, but no sags, draws or letters can be made from that time any more.',
    }),
    loss,
  );
  const saveButton = form.querySelector('button')!;

  /** Only what was changed here: another page may have saved the rest meanwhile. */
  function changes(): BodyOf<'updateSite'> | Fault {
    const body: BodyOf<'updateSite'> = {};
    if (isTouched(name)) body.name = name.value.trim();
    if (isTouched(zone)) body.timeZone = zone.value;
    for (const [key, input] of Object.entries(thresholds)) {
      if (!isTouched(input)) continue;
      const bar = readNumber(input);
      if (bar === undefined) return new Fault(`It reads “${input.value}”. Enter bar, for example 0.7.`, input);
      body.thresholds = { ...body.thresholds, [key]: bar };
    }
    if (isTouched(keepDays)) {
      const days = readKeepDays(keepDays.value);
      if (typeof days === 'string') return new Fault(days, keepDays);
      body.keepRawDays = days;
    }
    return Object.keys(body).length === 0 ? new Fault(NOTHING_CHANGED) : body;
  }

  function tellLoss(): void {
    const days = readKeepDays(keepDays.value);
    const words = typeof days === 'string' ? undefined : lossWords(site, days, Date.now());
    loss.textContent = words ?? '';
    saveButton.textContent = words === undefined ? 'Save' : 'Save, and erase them';
  }
  keepDays.addEventListener('input', tellLoss);

  function update(now: SiteResource): void {
    site = now;
    showSaved(name, now.name);
    showSaved(zone, now.timeZone);
    for (const [key, input] of Object.entries(thresholds))
      showSaved(input, String(now.thresholds[key as keyof typeof thresholds]));
    showSaved(keepDays, String(now.keepRawDays ?? ''));
    tellLoss();
  }
  update(site);

  const hiding = createFormReport();
  return {
    element: el(
      'details',
      {},
      el('summary', {}, 'Settings of this site'),
      form,
      el(
        'p',
        { class: 'quiet' },
        'Hiding takes the site off this page. It is kept for 30 days and erased then, with the samples its loggers recorded here.',
      ),
      hiding.element,
      hiding.button('Hide this site', () => call('deleteSite', { params: { id: site.id } }), intents.onHidden),
    ),
    update,
  };
}

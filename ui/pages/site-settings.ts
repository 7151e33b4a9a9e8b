import type { SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import { lossWords, readKeepDays } from './keep-days.ts';
import { zoneSelect } from './new-site-form.ts';

/** Name, time zone and thresholds of a site, and hiding it. Closed until touched. */
export function createSiteSettings(site: SiteResource, intents: { onSaved(): void; onHidden(): void }): HTMLElement {
  const name = el('input', { type: 'text', maxlength: 120, required: true, value: site.name });
  const zone = zoneSelect(site.timeZone);
  const low = numberInput(site.thresholds.lowSupplyBar);
  const sag = numberInput(site.thresholds.sagMinDepthBar);
  const inlet = numberInput(site.thresholds.weakInletBar);
  const keepDays = numberInput(site.keepRawDays ?? '');
  const problem = el('div');
  const loss = el('p', { role: 'status' });
  const saveButton = el('button', { type: 'submit', class: 'wide' }, 'Save');

  const attempt = async (action: () => Promise<unknown>, done: () => void) => {
    replace(problem);
    try {
      await action();
      done();
    } catch (error) {
      replace(problem, problemNote(error));
    }
  };
  const tellLoss = () => {
    const days = readKeepDays(keepDays.value);
    const words = typeof days === 'string' ? undefined : lossWords(site, days, Date.now());
    loss.textContent = words ?? '';
    saveButton.textContent = words === undefined ? 'Save' : 'Save, and erase them';
  };
  keepDays.addEventListener('input', tellLoss);
  const save = (event: Event) => {
    event.preventDefault();
    const thresholds = {
      lowSupplyBar: readNumber(low) ?? site.thresholds.lowSupplyBar,
      sagMinDepthBar: readNumber(sag) ?? site.thresholds.sagMinDepthBar,
      weakInletBar: readNumber(inlet) ?? site.thresholds.weakInletBar,
    };
    const days = readKeepDays(keepDays.value);
    if (typeof days === 'string') {
      replace(problem, el('p', { class: 'problem', role: 'alert' }, days));
      return;
    }
    const body = { name: name.value.trim(), timeZone: zone.value, thresholds, keepRawDays: days };
    void attempt(() => call('updateSite', { params: { id: site.id }, body }), intents.onSaved);
  };

  return el(
    'details',
    {},
    el('summary', {}, 'Settings of this site'),
    el(
      'form',
      { submit: save },
      field(name, { label: 'Name' }),
      field(zone, { label: 'Time zone', help: 'Days, mornings and nights are judged by the clock there.' }),
      el(
        'div',
        { class: 'fields' },
        field(low, { label: 'Low supply below, bar', help: '0.7 bar is some 7 m of water.' }),
        field(sag, { label: 'A sag is at least, bar', help: 'Fall below the night’s level.' }),
        field(inlet, { label: 'Weak inlet below, bar', help: 'Before a pump, while it runs.' }),
      ),
      field(keepDays, {
        label: 'Keep single readings for, days',
        help: 'Empty: for good. Otherwise older ones are erased from the disk and can’t be had back. The lowest, highest and mean of each minute stay and are drawn, but no sags, draws or letters can be made from that time any more.',
      }),
      loss,
      problem,
      el('p', {}, saveButton),
    ),
    el(
      'p',
      { class: 'quiet' },
      'Hiding takes the site off this page. It is kept for 30 days and erased then, with the samples its loggers recorded here.',
    ),
    el(
      'p',
      {},
      el(
        'button',
        {
          type: 'button',
          class: 'wide',
          click: () => void attempt(() => call('deleteSite', { params: { id: site.id } }), intents.onHidden),
        },
        'Hide this site',
      ),
    ),
  );
}

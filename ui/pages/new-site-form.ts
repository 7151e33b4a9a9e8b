import type { SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';

/** Name and time zone: all that a new site needs. */
export function createNewSiteForm(onAdded: (site: SiteResource) => void): { element: HTMLElement; open(): void } {
  const name = el('input', { type: 'text', autocomplete: 'off', maxlength: 120, required: true });
  const zone = zoneSelect(Intl.DateTimeFormat().resolvedOptions().timeZone);
  const problem = el('div');
  const button = el('button', { type: 'submit', class: 'main wide' }, 'Add the site');
  const form = el(
    'form',
    {
      submit: async (event) => {
        event.preventDefault();
        button.disabled = true;
        replace(problem);
        try {
          onAdded(await call('createSite', { body: { name: name.value.trim(), timeZone: zone.value } }));
        } catch (error) {
          replace(problem, problemNote(error));
        } finally {
          button.disabled = false;
        }
      },
    },
    field(name, { label: 'Name', help: 'As you call it, for example “12 Sample Row”.' }),
    field(zone, { label: 'Time zone', help: 'Days, mornings and nights are judged by the clock there.' }),
    problem,
    el('p', {}, button),
  );
  const element = el('details', {}, el('summary', {}, 'Add a site'), form);
  return {
    element,
    open() {
      element.open = true;
    },
  };
}

/** All zones this browser knows, with one chosen. */
export function zoneSelect(chosen: string): HTMLSelectElement {
  const zones = new Set([...Intl.supportedValuesOf('timeZone'), 'UTC', chosen]);
  return el(
    'select',
    {},
    ...[...zones].sort().map((zone) => el('option', { value: zone, selected: zone === chosen }, zone)),
  );
}

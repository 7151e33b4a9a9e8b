import type { SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { controlsByName, saveForm } from '../parts/form-report.ts';

/** Name and time zone: all that a new site needs. */
export function createNewSiteForm(onAdded: (site: SiteResource) => void): { element: HTMLElement; open(): void } {
  const name = el('input', { type: 'text', autocomplete: 'off', maxlength: 120, required: true });
  const zone = zoneSelect(Intl.DateTimeFormat().resolvedOptions().timeZone);
  const form = saveForm(
    {
      button: 'Add the site',
      main: true,
      read: () => ({ name: name.value.trim(), timeZone: zone.value }),
      send: (body) => call('createSite', { body }),
      done: (site) => {
        onAdded(site);
        return undefined;
      },
      controlAt: controlsByName({ name, timeZone: zone }),
    },
    field(name, { label: 'Name', help: 'As you call it, for example “12 Sample Row”.' }),
    field(zone, { label: 'Time zone', help: ZONE_HELP }),
  );
  const element = el('details', {}, el('summary', {}, 'Add a site'), form);
  return {
    element,
    open() {
      element.open = true;
    },
  };
}

export const ZONE_HELP = 'Days, mornings and nights are judged by the clock there.';

/** All zones this browser knows, with one chosen. */
export function zoneSelect(chosen: string): HTMLSelectElement {
  const zones = new Set([...Intl.supportedValuesOf('timeZone'), 'UTC', chosen]);
  return el(
    'select',
    {},
    ...[...zones].sort().map((zone) => el('option', { value: zone, selected: zone === chosen }, zone)),
  );
}

import type { SiteResource } from '../../api/contract/payloads.ts';
import { el } from '../parts/element.ts';
import { createFittingForm } from './fitting-form.ts';
import { createPumpForm } from './pump-form.ts';
import { createSiteSettings, type SiteForm } from './site-settings.ts';

/** All that can be set of a site, below its diary. What one form saves the others show; what is being typed stays. */
export function createSiteForms(
  site: SiteResource,
  intents: { onSaved(site: SiteResource): void; onHidden(): void },
): SiteForm {
  const onSaved = (now: SiteResource) => {
    update(now);
    intents.onSaved(now);
  };
  const pump = createPumpForm(site, onSaved);
  const forms = [
    createSiteSettings(site, { onSaved, onHidden: intents.onHidden }),
    pump,
    createFittingForm(site, onSaved),
  ];
  function update(now: SiteResource): void {
    for (const form of forms) form.update(now);
    pump.element.hidden = !hasPump(now);
  }
  update(site);
  return { element: el('div', {}, ...forms.map((form) => form.element)), update };
}

function hasPump({ loggers, pump }: SiteResource): boolean {
  return Boolean(pump) || loggers.some(({ position }) => position !== 'incoming');
}

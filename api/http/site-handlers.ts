import { randomBytes } from 'node:crypto';
import type { Clock } from '../../collector/model/clock.ts';
import { Problem } from '../../collector/model/problem.ts';
import { DEFAULT_THRESHOLDS, type Site, type Thresholds } from '../../collector/model/site.ts';
import type { Store } from '../../collector/store/port.ts';
import type { Handlers } from './handlers.ts';
import { knownSite } from './known-resources.ts';
import { pumpAndFitting } from './pump-and-fitting.ts';
import { serially } from './serially.ts';
import { siteResource } from './site-resource.ts';

type SiteHandlers = Pick<Handlers, 'listSites' | 'createSite' | 'getSite' | 'updateSite' | 'deleteSite'>;

export function siteHandlers(needs: {
  store: Store;
  clock: Clock;
  /** Told which site changed, so that open pages follow. */
  changed: (what: 'site', id: string) => void;
}): SiteHandlers {
  const { store, clock, changed } = needs;
  const inTurn = serially();
  const shown = (site: Site) => siteResource(store, site, clock.nowMs());
  return {
    async listSites({ query }) {
      const sites = await store.sites({ includeHidden: query.hidden === 'true' });
      return Promise.all(sites.map(shown));
    },
    async createSite({ body }) {
      const site: Site = {
        id: randomBytes(8).toString('hex'),
        name: body.name,
        timeZone: body.timeZone,
        createdMs: clock.nowMs(),
        thresholds: withChanges(DEFAULT_THRESHOLDS, body.thresholds),
        keepRawDays: body.keepRawDays ?? undefined,
        ...pumpAndFitting(undefined, body),
        invented: false,
      };
      await store.putSite(site);
      changed('site', site.id);
      return shown(site);
    },
    getSite: async ({ params }) => shown(await knownSite(store, params.id)),
    updateSite: ({ params, body }) =>
      inTurn(async () => {
        const before = await knownSite(store, params.id);
        if (Object.values(body).every((value) => value === undefined))
          throw new Problem(
            'nothing_to_change',
            'The body names nothing that a site has',
            'Give name, timeZone, thresholds, keepRawDays, pump, fitted, outletReadings, or "hidden": false to show it again',
          );
        const { hiddenMs, ...rest } = before;
        const site: Site = {
          ...rest,
          ...(hiddenMs === undefined || body.hidden === false ? {} : { hiddenMs }),
          name: body.name ?? before.name,
          timeZone: body.timeZone ?? before.timeZone,
          thresholds: withChanges(before.thresholds, body.thresholds),
          keepRawDays: body.keepRawDays === undefined ? before.keepRawDays : (body.keepRawDays ?? undefined),
          ...pumpAndFitting(before, body),
        };
        await store.putSite(site);
        changed('site', site.id);
        return shown(site);
      }),
    deleteSite: ({ params, query }) =>
      inTurn(async () => {
        const site = await knownSite(store, params.id);
        if (query.erase === 'true') await store.eraseSite(site.id);
        // Hiding again doesn't put off the end of the thirty days.
        else if (site.hiddenMs === undefined) await store.putSite({ ...site, hiddenMs: clock.nowMs() });
        changed('site', site.id);
        return undefined;
      }),
  };
}

function withChanges(before: Thresholds, changes: Partial<Record<keyof Thresholds, number | undefined>> | undefined) {
  return {
    lowSupplyBar: changes?.lowSupplyBar ?? before.lowSupplyBar,
    weakInletBar: changes?.weakInletBar ?? before.weakInletBar,
    sagMinDepthBar: changes?.sagMinDepthBar ?? before.sagMinDepthBar,
  };
}

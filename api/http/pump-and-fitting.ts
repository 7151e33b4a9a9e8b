import { formatRfc3339, parseRfc3339 } from '../../collector/model/instant.ts';
import type { Site } from '../../collector/model/site.ts';
import type { SiteResource } from '../contract/payloads.ts';
import { curveInBar, curveInMetres } from '../contract/pump-parts.ts';

type Shown = Pick<SiteResource, 'pump' | 'fitted' | 'outletReadings'>;
type Kept = Pick<Site, 'pump' | 'fittedMs' | 'outletReadings'>;

/** A site's pump and fitting after a request: what isn't named stays, null takes it back. Times were checked before. */
export function pumpAndFitting(before: Kept | undefined, body: Shown): Kept {
  const { pump, fitted, outletReadings } = body;
  return {
    pump:
      pump === undefined
        ? before?.pump
        : pump === null
          ? undefined
          : { ...pump, curve: pump.curve && curveInBar(pump.curve) },
    fittedMs: fitted === undefined ? before?.fittedMs : fitted === null ? undefined : parseRfc3339(fitted),
    outletReadings:
      outletReadings === undefined
        ? before?.outletReadings
        : outletReadings.map(({ time, ...reading }) => ({ ...reading, atMs: parseRfc3339(time)! })),
  };
}

/** The same as the API shows it. */
export function shownPumpAndFitting(site: Site): Shown {
  const { pump, fittedMs, outletReadings } = site;
  return {
    pump: pump
      ? {
          ...pump,
          allowedHours: pump.allowedHours && [...pump.allowedHours],
          curve: pump.curve && curveInMetres(pump.curve),
        }
      : null,
    fitted: fittedMs === undefined ? null : formatRfc3339(fittedMs),
    outletReadings: (outletReadings ?? []).map(({ atMs, ...reading }) => ({ ...reading, time: formatRfc3339(atMs) })),
  };
}

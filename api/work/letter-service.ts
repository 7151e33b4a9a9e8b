import type { ClockBook } from '../../collector/clocks/clock-book.ts';
import type { Clock } from '../../collector/model/clock.ts';
import { convertedSummaries } from '../../collector/store/converted.ts';
import type { Store } from '../../collector/store/port.ts';
import type { AskedSpan } from './asked-span.ts';
import { CALIBRATION_ENDED } from './calibration-in-force.ts';
import { type FindingsService, nothingRecorded } from './findings-service.ts';
import type { WorkerPool } from './worker-pool.ts';

/** Up to three weeks the band behind the standing pressure is drawn from minutes; a longer one has no room for them. */
const MINUTE_ENVELOPE_LIMIT_MS = 21 * 86_400_000;

export interface LetterService {
  /** The letter on a site's record. Throws Problem `nothing_recorded` where there is no logger to speak of. */
  write(siteId: string, span: AskedSpan, format: 'pdf' | 'html'): Promise<Uint8Array>;
}

export function createLetterService(needs: {
  store: Store;
  pool: WorkerPool;
  findings: FindingsService;
  clocks: Pick<ClockBook, 'during'>;
  clock: Clock;
  version: string;
}): LetterService {
  const { store, pool, findings, clocks, clock, version } = needs;
  return {
    async write(siteId, span, format) {
      const [made] = await findings.ofSite(siteId, span);
      if (!made) throw nothingRecorded(siteId);
      const { stretch, site, settings, calibrations } = made.sources;
      const within = { fromMs: made.fromMs, toMs: made.toMs };
      return pool.run(async () => ({
        kind: 'letter',
        format,
        findingsJson: made.json,
        input: {
          siteName: site?.name ?? siteId,
          invented: site?.invented ?? false,
          timeZone: site?.timeZone ?? 'UTC',
          ...within,
          writtenMs: clock.nowMs(),
          loggerId: stretch.loggerId,
          position: stretch.position,
          heightAboveSupplyPointM: stretch.heights.at(-1)?.heightM ?? 0,
          channelSettings: inForceDuring(settings, within),
          calibrations: inForceDuring(calibrations, within).filter((entry) => entry.note !== CALIBRATION_ENDED),
          clock: await clocks.during(stretch.loggerId, made.fromMs, made.toMs),
          envelope: await convertedSummaries(
            store,
            stretch.loggerId,
            'pressure',
            made.fromMs,
            made.toMs,
            made.toMs - made.fromMs > MINUTE_ENVELOPE_LIMIT_MS ? 'hour' : 'minute',
          ),
          programVersion: version,
        },
      }));
    },
  };
}

/** Dated entries that held at some time of a span: those dated inside it, and of each channel the last before it. */
function inForceDuring<T extends { readonly fromMs: number; readonly channel: string }>(
  entries: readonly T[],
  span: { readonly fromMs: number; readonly toMs: number },
): T[] {
  const sorted = [...entries].sort((a, b) => a.fromMs - b.fromMs);
  return sorted.filter((entry, index) => {
    if (entry.fromMs >= span.toMs) return false;
    const next = sorted.slice(index + 1).find((later) => later.channel === entry.channel);
    return next === undefined || next.fromMs > span.fromMs;
  });
}

import type { LoggerFindings, SiteFindings } from '../../api/contract/payloads.ts';
import { timeText } from '../view-state.ts';
import { call, onOwnChange } from './api-client.ts';

/*
 * Findings of a whole log cost the server seconds each time a sample is added. While samples come in, they are asked
 * for up to the last full five minutes, so that the answer stays the same (and is kept, there and here) for as long.
 */
export const FINDINGS_STEP_MS = 300_000;
/** A log that began this shortly ago is asked for as it stands. */
const YOUNG_LOG_MS = 6 * 3_600_000;
/** Documents kept in the page: a year's holds some ten megabytes. */
const KEPT = 4;

const kept = new Map<string, Promise<unknown>>();
/** Settings decide what findings say: after any change of ours they are asked for anew. */
onOwnChange(forgetFindings);

export function forgetFindings(): void {
  kept.clear();
}

/** Until when to ask about a log with this first and last sample; undefined: all of it. */
export function findingsUntil(firstMs: number, lastMs: number, nowMs: number): string | undefined {
  const until = Math.floor(nowMs / FINDINGS_STEP_MS) * FINDINGS_STEP_MS;
  return lastMs >= until && firstMs < until - YOUNG_LOG_MS ? timeText(until) : undefined;
}

export function siteFindings(id: string, until: string | undefined): Promise<SiteFindings> {
  return keep(`site ${id}`, until, () => call('siteFindings', { params: { id }, query: { to: until } }));
}

export function loggerFindings(id: string, until: string | undefined): Promise<LoggerFindings> {
  return keep(`logger ${id}`, until, () => call('loggerFindings', { params: { id }, query: { to: until } }));
}

function keep<T>(name: string, until: string | undefined, fetch: () => Promise<T>): Promise<T> {
  // A log that stands still may be added to by an import at any time: only closed spans are kept.
  if (until === undefined) return fetch();
  const key = `${name} ${until}`;
  const known = kept.get(key);
  if (known) return known as Promise<T>;
  const asked = fetch();
  kept.set(key, asked);
  asked.catch(() => kept.delete(key));
  for (const oldest of kept.keys()) {
    if (kept.size <= KEPT) break;
    kept.delete(oldest);
  }
  return asked;
}

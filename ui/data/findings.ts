import type { LoggerFindings, SiteFindings } from '../../api/contract/payloads.ts';
import { call, onOwnChange } from './api-client.ts';

/*
 * Findings of whole logs, without an end: the server answers up to where it last read, and tells by a frame when there
 * is more to say.
 */

/** From page to page the same document serves for a minute, as it does at the server. */
const KEPT_MS = 60_000;
/** A log as short as this may say something else by the minute. */
const YOUNG_LOG_MS = 6 * 3_600_000;
/** Documents kept in the page: a year's holds some ten megabytes. */
const KEPT = 4;

interface Kept {
  readonly asked: Promise<unknown>;
  readonly askedMs: number;
}

const kept = new Map<string, Kept>();
/** Settings decide what findings say: after any change of ours they are asked for anew. */
onOwnChange(forgetFindings);

export function forgetFindings(): void {
  kept.clear();
}

/** `newer`: there is more to say than in what was fetched before. */
export function siteFindings(id: string, newer?: 'newer'): Promise<SiteFindings> {
  return keep(`site ${id}`, newer, () => call('siteFindings', { params: { id } }));
}

export function loggerFindings(id: string, newer?: 'newer'): Promise<LoggerFindings> {
  return keep(`logger ${id}`, newer, () => call('loggerFindings', { params: { id } }));
}

function keep<T extends Pick<LoggerFindings, 'series'>>(
  name: string,
  newer: 'newer' | undefined,
  fetch: () => Promise<T>,
): Promise<T> {
  const known = kept.get(name);
  if (known && newer === undefined && Date.now() - known.askedMs < KEPT_MS) return known.asked as Promise<T>;
  const asked = fetch();
  const entry: Kept = { asked, askedMs: Date.now() };
  const forget = () => {
    if (kept.get(name) === entry) kept.delete(name);
  };
  kept.delete(name);
  kept.set(name, entry);
  asked.then(({ series }) => {
    if (series.start === null || series.end === null) forget();
    else if (Date.parse(series.end) - Date.parse(series.start) < YOUNG_LOG_MS) forget();
  }, forget);
  for (const oldest of kept.keys()) {
    if (kept.size <= KEPT) break;
    kept.delete(oldest);
  }
  return asked;
}

import { clockRange, shortDate } from '../format.ts';
import type { SiteTime } from '../site-time.ts';

/** A finding as the list beneath a chart tells it, with what opens when it is touched. */
export interface FindingAccount {
  /** Stable within one log: kind and start. Stands in the address. */
  readonly key: string;
  readonly fromMs: number;
  readonly toMs: number;
  /** One line. */
  readonly title: string;
  readonly certainty: 'certain' | 'possible' | undefined;
  /** The rule by which it was found, in words. */
  readonly rule: string;
  /** Names and figures with units. */
  readonly figures: readonly (readonly [string, string])[];
}

/** An interval as times and in words. */
export function times(start: string, end: string, time: SiteTime) {
  const fromMs = Date.parse(start);
  const toMs = Date.parse(end);
  return { fromMs, toMs, words: `${shortDate(time.parts(fromMs).date)}, ${clockRange(fromMs, toMs, time)}` };
}

/** Stable within one log: kind and start. */
export function keyOf(kind: string, fromMs: number): string {
  return `${kind}-${Math.floor(fromMs / 1000)}`;
}

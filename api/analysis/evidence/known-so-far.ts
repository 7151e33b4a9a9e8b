import type { AnalysisSite, SagComparison, SagSummary } from '../findings.ts';
import type { Unmoved } from '../quality/unmoved.ts';
import { MEAN_MS } from '../supply/judge-window.ts';
import type { SupplyFindings } from '../supply/supply-findings.ts';
import type { SensorBudget } from '../uncertainty/sensor-budget.ts';
import { duration } from './wording.ts';

/** All that statements and open questions about the supply rest on. */
export interface KnownSoFar {
  readonly found: SupplyFindings;
  readonly summaries: readonly SagSummary[];
  readonly comparison: readonly SagComparison[];
  readonly site: AnalysisSite;
  readonly budget: SensorBudget;
  /** From the first sample to the end of the last. */
  readonly span: { readonly startMs: number; readonly endMs: number };
  readonly intervalS: number;
  /** Readings that never moved for longer than a quiet main would make likely. */
  readonly unmoved: Unmoved | undefined;
}

/** A log known for less of its span, or shorter than a day, is told with the time that could be judged. */
const NEARLY_ALL = 0.98;
const DAY_MS = 86_400_000;

/** How much of the log standing pressure is known for. */
export interface KnownTime {
  readonly knownMs: number;
  /** `the 3 h of 299 days that could be judged`; undefined where that is nearly all of a day or more. */
  readonly words: string | undefined;
}

export function knownTime({ found, span }: KnownSoFar): KnownTime {
  const { bar, stepMs } = found.standing;
  const spanMs = span.endMs - span.startMs;
  const knownMs = Math.min(spanMs, stepMs * bar.reduce((count, value) => count + (Number.isNaN(value) ? 0 : 1), 0));
  const nearlyAll = knownMs >= NEARLY_ALL * spanMs;
  if (nearlyAll && spanMs >= DAY_MS) return { knownMs, words: undefined };
  return {
    knownMs,
    words: `the ${duration(knownMs)}${nearlyAll ? '' : ` of ${duration(spanMs)}`} that could be judged`,
  };
}

/** Of a shorter time nothing is called certain: a street takes minutes to change (common practice, no source). */
const LEAST_CERTAIN_MS = 3_600_000;
/** At a slower rate a log shows no 5-minute mean: what it says of a level rests on single readings. */
const SLOWEST_CERTAIN_S = MEAN_MS / 1000;

/** Whether what is said of a level rests on too little to be certain: less than an hour, or readings too far apart. */
export function isThin(known: KnownSoFar): boolean {
  return known.intervalS > SLOWEST_CERTAIN_S || knownTime(known).knownMs < LEAST_CERTAIN_MS;
}

/** Whether the readings never moved for half of the known time or more: all that they say may be a dead sensor's. */
export function mayBeDead(known: KnownSoFar): boolean {
  const { unmoved } = known;
  return unmoved !== undefined && 2 * (unmoved.endMs - unmoved.startMs) >= knownTime(known).knownMs;
}
